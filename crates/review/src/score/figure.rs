//! An estimate as a report has it.

use super::kinds::Reason;
use crate::round::{interval, milli};
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_stats::Estimate;

/// An estimate with its 95 % interval. Where `value` is `null`, `withheld` says why.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[cfg_attr(feature = "schemas", schemars(extend(
    "if" = {"properties": {"value": {"type": "null"}}},
    "then" = {"properties": {"withheld": {"type": "string", "minLength": 1}}}
)))]
pub struct Figure {
    /// The estimate.
    pub value: Option<f64>,
    /// 95 % interval.
    pub ci95: Option<[f64; 2]>,
    /// How many notes (or what `value` counts) stand behind it.
    pub n: usize,
    /// Why it is withheld, in words.
    pub withheld: Option<String>,
    /// Why, as one of few.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Reason>,
    /// Where only its upper end can be told: that 95 % limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below: Option<f64>,
}

impl Figure {
    /// An estimate, rounded for the report.
    pub(crate) fn estimated(e: Estimate) -> Self {
        Self { value: milli(e.value), ci95: interval(e.interval.low, e.interval.high), n: e.n, ..Self::default() }
    }

    /// No value, for a reason.
    pub(crate) fn withheld(reason: Reason, why: impl Into<String>, n: usize) -> Self {
        Self { withheld: Some(why.into()), reason: Some(reason), n, ..Self::default() }
    }
}
