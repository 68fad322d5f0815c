//! What a figure is in one group of notes.

use crate::round::milli;
use takegauge_stats::Estimate;

/// What a figure is in one group: `None` where it is withheld. Rounded as reports are.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Value {
    /// The figure.
    pub value: Option<f64>,
    /// Lower end of its 95 % interval; may be missing alone, where the interval reaches 0.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

impl Value {
    /// So many.
    pub fn count(n: usize) -> Self {
        Self { value: Some(n as f64), ..Self::default() }
    }

    /// A number without an interval.
    pub fn number(x: Option<f64>) -> Self {
        Self { value: x.and_then(milli), ..Self::default() }
    }

    /// A number with its interval.
    pub fn estimate(e: Option<Estimate>) -> Self {
        let ends = [Some(e.map_or(f64::NAN, |e| e.interval.low)), Some(e.map_or(f64::NAN, |e| e.interval.high))];
        Self::number(e.map(|e| e.value)).within(ends)
    }

    /// The same with these ends.
    pub fn within(self, [low, high]: [Option<f64>; 2]) -> Self {
        Self { low: low.and_then(milli), high: high.and_then(milli), ..self }
    }
}
