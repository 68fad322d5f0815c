//! What is known of a note's time before it is held against others like it: right within a fraction of a millisecond, or an
//! outlier, with a probability that its stated uncertainty tells.

use crate::tuning::settle::{DOUBT_IF_SURE, ELSEWHERE_MS, HERE_MS, LOST_MS, MOST_DOUBT, SURE_MS};

/// The time that a note was given by itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Prior {
    /// One standard deviation of its own time, ms.
    pub(crate) sd_ms: f64,
}

impl Prior {
    pub(crate) fn sure(&self) -> bool {
        self.sd_ms <= SURE_MS
    }

    /// Chance that its time is elsewhere.
    pub(crate) fn outlier_probability(&self) -> f64 {
        if self.sure() {
            return DOUBT_IF_SURE;
        }
        (self.sd_ms / LOST_MS).min(MOST_DOUBT)
    }

    /// Where its attack is after its own time.
    pub(crate) fn density(&self) -> Mixture {
        Mixture::new(self.outlier_probability(), self.sd_ms.clamp(HERE_MS.0, HERE_MS.1))
    }
}

/// What is known of a pair of own times: both are right, or one is not.
pub(crate) fn pair_density(one: &Prior, other: &Prior) -> Mixture {
    Mixture::new(1.0 - (1.0 - one.outlier_probability()) * (1.0 - other.outlier_probability()), HERE_MS.1)
}

/// A density of two normal distributions about 0: here, or elsewhere.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Mixture {
    here_ms: f64,
    /// Logarithms of either's share over its width.
    here: f64,
    elsewhere: f64,
}

impl Mixture {
    fn new(elsewhere: f64, here_ms: f64) -> Self {
        let height = |share: f64, sd: f64| (share / (sd * (2.0 * std::f64::consts::PI).sqrt())).ln();
        Self { here_ms, here: height(1.0 - elsewhere, here_ms), elsewhere: height(elsewhere, ELSEWHERE_MS) }
    }

    /// The density's logarithm.
    pub(crate) fn at(&self, off_ms: f64) -> f64 {
        let square = |sd: f64| 0.5 * (off_ms / sd) * (off_ms / sd);
        let elsewhere = self.elsewhere - square(ELSEWHERE_MS);
        let here = self.here - square(self.here_ms);
        // The smaller one's share of the sum is below rounding far away.
        if here < elsewhere - 36.0 { elsewhere } else { elsewhere + (here - elsewhere).exp().ln_1p() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn densities_add_up_to_one() {
        for sd_ms in [0.1, 0.4, 2.0, 5.0, f64::INFINITY] {
            let step = 0.005;
            let sum: f64 =
                (-8_000..8_000).map(|k| Prior { sd_ms }.density().at(f64::from(k) * step).exp() * step).sum();
            assert!((sum - 1.0).abs() < 1e-3, "{sd_ms}: {sum}");
        }
    }
}
