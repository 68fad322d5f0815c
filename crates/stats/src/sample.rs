//! The door: [`Sample`] checks numbers once, so that every statistic behind it is total.

use crate::error::{Result, StatsError};

/// The largest size a value may have: its fourth power is still a double, so no statistic here overflows.
const LARGEST: f64 = 1e60;

/// At least one value, all finite and below 1e60 in size, in the caller's order and unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample<'a> {
    values: &'a [f64],
}

impl<'a> Sample<'a> {
    /// Checks `values`.
    ///
    /// # Errors
    /// [`StatsError::Empty`], or [`StatsError::NotFinite`] with the index of the first unusable value.
    pub fn new(values: &'a [f64]) -> Result<Self> {
        if values.is_empty() {
            return Err(StatsError::Empty);
        }
        match values.iter().position(|v| v.is_nan() || v.abs() >= LARGEST) {
            Some(index) => Err(StatsError::NotFinite { index }),
            None => Ok(Self { values }),
        }
    }

    /// As [`Sample::new`], with at least `needed` values.
    ///
    /// # Errors
    /// As [`Sample::new`], and [`StatsError::TooFew`].
    pub fn at_least(values: &'a [f64], needed: usize) -> Result<Self> {
        let sample = Self::new(values)?;
        sample.need(needed)?;
        Ok(sample)
    }

    /// The values.
    pub fn values(self) -> &'a [f64] {
        self.values
    }

    /// How many there are (never 0).
    #[expect(clippy::len_without_is_empty, reason = "a sample is never empty")]
    pub fn len(self) -> usize {
        self.values.len()
    }

    /// The values in rising order.
    pub fn sorted(self) -> Vec<f64> {
        let mut sorted = self.values.to_vec();
        sorted.sort_by(f64::total_cmp);
        sorted
    }

    pub(crate) fn need(self, needed: usize) -> Result<()> {
        if self.len() < needed { Err(StatsError::TooFew { needed, got: self.len() }) } else { Ok(()) }
    }
}

/// A range that covers the truth with the probability asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end, never below `low`.
    pub high: f64,
}

impl Interval {
    /// Whether `value` lies inside, ends included.
    pub fn holds(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}

/// A figure with its interval and the number of values behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate itself.
    pub value: f64,
    /// Where the truth lies at the confidence asked for.
    pub interval: Interval,
    /// How many values it rests on.
    pub n: usize,
}

/// Two lists that run in parallel must be equally long.
pub(crate) fn same_length(left: usize, right: usize) -> Result<()> {
    if left == right { Ok(()) } else { Err(StatsError::LengthMismatch { left, right }) }
}

/// A confidence must lie strictly between 0 and 1.
pub(crate) fn check_confidence(confidence: f64) -> Result<()> {
    if confidence > 0.0 && confidence < 1.0 {
        Ok(())
    } else {
        Err(StatsError::OutOfRange { what: "confidence", allowed: "above 0 and below 1" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_door_turns_away_what_no_statistic_can_use() {
        assert_eq!(Sample::new(&[]), Err(StatsError::Empty));
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e60] {
            assert_eq!(Sample::new(&[1.0, bad]), Err(StatsError::NotFinite { index: 1 }));
        }
        assert_eq!(Sample::at_least(&[1.0], 2), Err(StatsError::TooFew { needed: 2, got: 1 }));
        assert_eq!(Sample::new(&[2.0, 1.0]).unwrap().sorted(), [1.0, 2.0]);
    }
}
