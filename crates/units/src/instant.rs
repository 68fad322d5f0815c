//! Points in a take. An `f32` of seconds is 0.5 ms off after two hours; a whole sample and a fraction never is.

use crate::Seconds;
use serde::{Deserialize, Serialize};

/// Samples a second, 1 Hz to 1 MHz.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SampleRate(u32);

impl SampleRate {
    /// `None` for 0 Hz and above 1 MHz.
    pub fn new(hz: u32) -> Option<Self> {
        (1..=1_000_000).contains(&hz).then_some(Self(hz))
    }

    /// Samples a second.
    pub fn hz(self) -> u32 {
        self.0
    }

    /// Samples a second, for arithmetic.
    pub fn as_f64(self) -> f64 {
        f64::from(self.0)
    }

    /// How many samples last `s`, rounded to the nearest; 0 for negative or non-finite lengths.
    pub fn samples_in(self, s: Seconds) -> usize {
        let n = (s.0 * self.as_f64()).round();
        if n.is_finite() && n > 0.0 { n as usize } else { 0 }
    }
}

/// A whole sample of a take, counted from 0 in the take's own time.
pub type SampleIndex = u64;

/// A point in a take: a whole sample and a fraction of one in [0, 1).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Instant {
    sample: SampleIndex,
    fraction: f64,
}

impl Instant {
    /// The point `offset` samples (signed, any size) after the whole sample `sample`; points before the take's
    /// start become its start. A non-finite offset counts as 0.
    pub fn new(sample: SampleIndex, offset: f64) -> Self {
        let offset = if offset.is_finite() { offset } else { 0.0 };
        let whole = offset.floor();
        let fraction = offset - whole;
        let sample = if whole < 0.0 {
            match sample.checked_sub((-whole) as u64) {
                Some(s) => s,
                None => return Self { sample: 0, fraction: 0.0 },
            }
        } else {
            sample.saturating_add(whole as u64)
        };
        // A tiny negative offset leaves a fraction that rounds up to 1.
        if fraction >= 1.0 {
            Self { sample: sample.saturating_add(1), fraction: 0.0 }
        } else {
            Self { sample, fraction }
        }
    }

    /// The point `s` after the take's start; before it, the start.
    pub fn at(s: Seconds, rate: SampleRate) -> Self {
        Self::new(0, s.0 * rate.as_f64())
    }

    /// The whole sample at or before the point.
    pub fn sample(self) -> SampleIndex {
        self.sample
    }

    /// What is left beyond the whole sample, in [0, 1).
    pub fn fraction(self) -> f64 {
        self.fraction
    }

    /// Seconds from the take's start.
    pub fn seconds(self, rate: SampleRate) -> Seconds {
        let hz = u64::from(rate.hz());
        let rest = (self.sample % hz) as f64 + self.fraction;
        Seconds((self.sample / hz) as f64 + rest / rate.as_f64())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offsets_carry_into_whole_samples() {
        assert_eq!(Instant::new(10, -0.25), Instant { sample: 9, fraction: 0.75 });
        assert_eq!(Instant::new(10, 2.5), Instant { sample: 12, fraction: 0.5 });
        assert_eq!(Instant::new(1, -5.0), Instant { sample: 0, fraction: 0.0 });
        assert_eq!(Instant::new(3, -1e-20).sample(), 3);
        assert_eq!(Instant::new(3, f64::NAN), Instant { sample: 3, fraction: 0.0 });
    }

    #[test]
    fn two_hours_in_keep_a_thousandth_of_a_sample() {
        let rate = SampleRate::new(48_000).unwrap();
        let a = Instant::new(2 * 3600 * 48_000, 0.001).seconds(rate).0;
        assert!((a - 7200.0 - 0.001 / 48_000.0).abs() < 1e-11);
    }
}
