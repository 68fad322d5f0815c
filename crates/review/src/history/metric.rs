//! What is followed over the days.

use super::point::TakePoint;
use crate::score::Unit;
use serde::{Deserialize, Serialize};

/// What is followed over the days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Metric {
    /// Scatter, ms.
    Spread,
    /// Early (-) or late (+) on average, ms.
    Bias,
    /// SD of inter-onset intervals, ms.
    Evenness,
    /// Missed, wrong and extra notes in 100.
    Errors,
    /// Ringing over, ms.
    Smear,
    /// (limit - |bias|) / spread.
    Margin,
    /// The highest tempo of the day at which a take had no error, bpm; days without such a take do not count.
    CleanTempo,
}

impl Metric {
    /// All of them.
    pub const ALL: [Self; 7] =
        [Self::Spread, Self::Bias, Self::Evenness, Self::Errors, Self::Smear, Self::Margin, Self::CleanTempo];

    /// The name in JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Spread => "spread",
            Self::Bias => "bias",
            Self::Evenness => "evenness",
            Self::Errors => "errors",
            Self::Smear => "smear",
            Self::Margin => "margin",
            Self::CleanTempo => "clean_tempo",
        }
    }

    /// As a player reads it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Spread => "scatter",
            Self::Bias => "early (-) or late (+) on average",
            Self::Evenness => "unevenness of the intervals",
            Self::Errors => "errors in 100 notes",
            Self::Smear => "ringing over",
            Self::Margin => "margin",
            Self::CleanTempo => "highest tempo without an error",
        }
    }

    /// Of its values.
    pub fn unit(self) -> Unit {
        match self {
            Self::Spread | Self::Bias | Self::Evenness | Self::Smear => Unit::Milliseconds,
            Self::CleanTempo => Unit::BeatsAMinute,
            Self::Errors | Self::Margin => Unit::None,
        }
    }

    /// Its value in one take.
    pub fn value(self, p: &TakePoint) -> Option<f64> {
        let f = &p.figures;
        match self {
            Self::Spread => f.spread_ms,
            Self::Bias => f.bias_ms,
            Self::Evenness => f.evenness_ms,
            Self::Errors => (f.reached > 0).then(|| 100.0 * f.errors() as f64 / f.reached as f64),
            Self::Smear => f.smear_ms,
            Self::Margin => f.margin,
            Self::CleanTempo => (p.take_errors == 0 && p.take_notes > 0).then_some(p.tempo_bpm),
        }
    }
}
