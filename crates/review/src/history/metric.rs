//! What is followed over the days.

use super::point::TakePoint;
use crate::declared::{BIAS, GroupFigure, MARGIN, REACHED, SPREAD, declared};
use crate::score::Unit;
#[cfg(feature = "schemas")]
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::borrow::Cow;

/// What is followed over the days: a declared figure, or one of two that are worked out of several.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Metric {
    /// As it is declared.
    Figure(&'static GroupFigure),
    /// Missed, wrong and extra notes in 100.
    Errors,
    /// The highest tempo of the day at which a take had no error, bpm; days without such a take do not count.
    CleanTempo,
}

impl Metric {
    /// Early (-) or late (+) on average.
    pub const BIAS: Self = Self::Figure(&BIAS);
    /// Scatter.
    pub const SPREAD: Self = Self::Figure(&SPREAD);
    /// The margin to the limit.
    pub const MARGIN: Self = Self::Figure(&MARGIN);

    /// All that a trend follows, in its order.
    pub fn all() -> Vec<Self> {
        let followed = declared().iter().filter_map(|f| Some((f.trend?, Self::Figure(f))));
        let mut all: Vec<(u8, Self)> = followed.chain([(3, Self::Errors), (6, Self::CleanTempo)]).collect();
        all.sort_by_key(|(place, _)| *place);
        all.into_iter().map(|(_, metric)| metric).collect()
    }

    /// By its name.
    pub fn named(name: &str) -> Option<Self> {
        Self::all().into_iter().find(|m| m.name() == name)
    }

    /// All that two sets of takes are held against each other by.
    pub fn compared() -> impl Iterator<Item = Self> {
        declared().iter().filter(|f| f.compared).map(|f| Self::Figure(f)).chain([Self::Errors])
    }

    /// The name in JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Figure(f) => f.name(),
            Self::Errors => "errors",
            Self::CleanTempo => "clean_tempo",
        }
    }

    /// As a player reads it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Figure(f) => f.words,
            Self::Errors => "errors in 100 notes",
            Self::CleanTempo => "highest tempo without an error",
        }
    }

    /// Of its values.
    pub fn unit(self) -> Unit {
        match self {
            Self::Figure(f) => f.unit,
            Self::Errors => Unit::None,
            Self::CleanTempo => Unit::BeatsAMinute,
        }
    }

    /// Its value in one take.
    pub fn value(self, p: &TakePoint) -> Option<f64> {
        match self {
            Self::Figure(figure) => p.figures.value(figure),
            Self::Errors => {
                let reached = p.figures.count(&REACHED);
                (reached > 0).then(|| 100.0 * p.figures.errors() as f64 / reached as f64)
            }
            Self::CleanTempo => (p.take_errors == 0 && p.take_notes > 0).then_some(p.tempo_bpm),
        }
    }
}

impl Serialize for Metric {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.name())
    }
}

impl<'de> Deserialize<'de> for Metric {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let name = Cow::<str>::deserialize(d)?;
        Self::named(&name).ok_or_else(|| serde::de::Error::custom(format!("no figure is called {name:?}")))
    }
}

#[cfg(feature = "schemas")]
impl JsonSchema for Metric {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Metric".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({"enum": Self::all().into_iter().map(Self::name).collect::<Vec<_>>()})
    }
}
