//! Location and spread that a few slips cannot move: median, MAD, trimmed mean, winsorising.

use crate::dist::{t_quantile, t_two_sided};
use crate::error::{Result, StatsError};
use crate::moments::{quantile_of_sorted, raw_mean, raw_sum_of_squares};
use crate::sample::{Estimate, Interval, Sample, check_confidence};

/// Makes the MAD of normal data estimate their SD: 1 / quantile(0.75) of the standard normal.
const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// The median; between the two middle values where n is even.
pub fn median(sample: Sample) -> f64 {
    quantile_of_sorted(&sample.sorted(), 0.5)
}

/// The median as one of the values: the larger of the two middle ones where their number is even. Values that are no
/// number count as the largest. `None` of none.
pub fn upper_median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}

/// The median absolute deviation from the median, unscaled.
pub fn mad(sample: Sample) -> f64 {
    let m = median(sample);
    let mut away: Vec<f64> = sample.values().iter().map(|v| (v - m).abs()).collect();
    away.sort_by(f64::total_cmp);
    quantile_of_sorted(&away, 0.5)
}

/// The MAD times 1.4826, which estimates the SD of normal data (Hampel 1974, J. Am. Stat. Assoc. 69:383).
pub fn mad_sd(sample: Sample) -> f64 {
    MAD_TO_SD * mad(sample)
}

/// The range within `k` scaled MADs of the median; `None` where the MAD is 0 (half of the values equal) and there is no
/// scale to judge by.
fn reach(sample: Sample, k: f64) -> Result<Option<Interval>> {
    if !(k > 0.0 && k.is_finite()) {
        return Err(StatsError::OutOfRange { what: "number of MADs", allowed: "above 0" });
    }
    let (m, reach) = (median(sample), k * mad_sd(sample));
    Ok((reach > 0.0).then_some(Interval { low: m - reach, high: m + reach }))
}

/// Pulls values further than `k` scaled MADs from the median back to that distance; returns how many were moved.
/// Where the MAD is 0 nothing is moved.
///
/// # Errors
/// As [`Sample::new`]; [`StatsError::OutOfRange`] unless `k` is above 0.
pub fn winsorise(values: &mut [f64], k: f64) -> Result<usize> {
    let Some(range) = reach(Sample::new(values)?, k)? else { return Ok(0) };
    let mut moved = 0;
    for v in values {
        let kept = v.clamp(range.low, range.high);
        moved += usize::from(kept != *v);
        *v = kept;
    }
    Ok(moved)
}

/// Indices of the slips: values further than `k` scaled MADs from the median. None where the MAD is 0.
///
/// # Errors
/// [`StatsError::OutOfRange`] unless `k` is above 0.
pub fn slips(sample: Sample, k: f64) -> Result<Vec<usize>> {
    let Some(range) = reach(sample, k)? else { return Ok(Vec::new()) };
    Ok(sample.values().iter().enumerate().filter(|(_, v)| !range.holds(**v)).map(|(i, _)| i).collect())
}

/// A trimmed mean with what is needed to test it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrimmedMean {
    /// The mean of what is left after trimming.
    pub value: f64,
    /// Its standard error from the winsorised sum of squares; 0 only where the values left are all equal.
    pub standard_error: f64,
    /// Degrees of freedom: the number of values left minus 1.
    pub degrees_of_freedom: f64,
    /// How many values went in.
    pub n: usize,
}

impl TrimmedMean {
    /// The interval by Student's t.
    ///
    /// # Errors
    /// [`StatsError::OutOfRange`] for a confidence not between 0 and 1.
    pub fn estimate(self, confidence: f64) -> Result<Estimate> {
        check_confidence(confidence)?;
        let reach = t_quantile(0.5 + 0.5 * confidence, self.degrees_of_freedom) * self.standard_error;
        Ok(Estimate {
            value: self.value,
            interval: Interval { low: self.value - reach, high: self.value + reach },
            n: self.n,
        })
    }
}

/// Mean without the lowest and highest `share` (0.2 for 20 %) of values, and its standard error: Tukey & McLaughlin
/// (1963), Sankhya A 25:331; Yuen (1974), Biometrika 61:165: SE^2 = SSW / (h (h - 1)), h values left, SSW the
/// sum of squares of the winsorised sample about its own mean.
///
/// # Errors
/// [`StatsError::OutOfRange`] unless 0 <= `share` < 0.5, [`StatsError::TooFew`] if fewer than two values are left.
pub fn trimmed_mean(sample: Sample, share: f64) -> Result<TrimmedMean> {
    if !(0.0..0.5).contains(&share) {
        return Err(StatsError::OutOfRange { what: "share trimmed", allowed: "0 to below 0.5" });
    }
    let mut sorted = sample.sorted();
    let n = sorted.len();
    let cut = (share * n as f64).floor() as usize;
    let left = n - 2 * cut;
    if left < 2 {
        return Err(StatsError::TooFew { needed: 2, got: left });
    }
    let value = raw_mean(&sorted[cut..n - cut]);
    let (low, high) = (sorted[cut], sorted[n - cut - 1]);
    for v in &mut sorted {
        *v = v.clamp(low, high);
    }
    let h = left as f64;
    Ok(TrimmedMean {
        value,
        standard_error: (raw_sum_of_squares(&sorted) / (h * (h - 1.0))).sqrt(),
        degrees_of_freedom: h - 1.0,
        n,
    })
}

/// A difference of two locations with its test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// First minus second, with its interval; n counts both.
    pub estimate: Estimate,
    /// Student's t of the difference.
    pub t: f64,
    /// Approximate degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Two-sided p.
    pub p: f64,
}

/// From a difference and two squared standard errors with their degrees of freedom: Welch (1947), Biometrika 34:28;
/// with trimmed means it is Yuen's test.
pub(crate) fn unequal_variance_test(
    difference: f64,
    squared_errors: [f64; 2],
    df: [f64; 2],
    n: usize,
    confidence: f64,
) -> Result<Difference> {
    check_confidence(confidence)?;
    let total = squared_errors[0] + squared_errors[1];
    if total <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let shares = [squared_errors[0] / total, squared_errors[1] / total];
    let df = 1.0 / (shares[0] * shares[0] / df[0] + shares[1] * shares[1] / df[1]);
    let se = total.sqrt();
    let t = difference / se;
    let reach = t_quantile(0.5 + 0.5 * confidence, df) * se;
    Ok(Difference {
        estimate: Estimate {
            value: difference,
            interval: Interval { low: difference - reach, high: difference + reach },
            n,
        },
        t,
        degrees_of_freedom: df,
        p: t_two_sided(t, df),
    })
}

/// Difference of two trimmed means where spreads differ (Yuen 1974).
///
/// # Errors
/// As [`trimmed_mean`]; [`StatsError::NoSpread`] if neither sample scatters.
pub fn yuen(first: Sample, second: Sample, share: f64, confidence: f64) -> Result<Difference> {
    let (a, b) = (trimmed_mean(first, share)?, trimmed_mean(second, share)?);
    unequal_variance_test(
        a.value - b.value,
        [a.standard_error * a.standard_error, b.standard_error * b.standard_error],
        [a.degrees_of_freedom, b.degrees_of_freedom],
        a.n + b.n,
        confidence,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_slip_moves_neither_median_nor_mad() {
        let y = [1.0, 2.0, 3.0, 4.0, 100.0];
        let s = Sample::new(&y).unwrap();
        assert_eq!((median(s), mad(s)), (3.0, 1.0));
    }

    #[test]
    fn winsorising_pulls_only_the_far_ones_in() {
        let mut y = [1.0, 2.0, 3.0, 4.0, 100.0];
        assert_eq!(slips(Sample::new(&y).unwrap(), 4.0), Ok(vec![4]));
        assert_eq!(winsorise(&mut y, 4.0), Ok(1));
        assert_eq!(y[..4], [1.0, 2.0, 3.0, 4.0]);
        assert!((y[4] - (3.0 + 4.0 * MAD_TO_SD)).abs() < 1e-12);
        assert_eq!(winsorise(&mut [1.0, 1.0, 1.0, 9.0], 4.0), Ok(0));
        assert_eq!(slips(Sample::new(&[1.0, 1.0, 1.0, 9.0]).unwrap(), 4.0), Ok(vec![]));
        assert!(winsorise(&mut [1.0], 0.0).is_err());
    }

    #[test]
    fn trimming_nothing_gives_the_mean_and_its_usual_error() {
        let y = [1.0, 2.0, 3.0, 4.0];
        let t = trimmed_mean(Sample::new(&y).unwrap(), 0.0).unwrap();
        assert_eq!(t.value, 2.5);
        assert!((t.standard_error - (5.0f64 / 3.0 / 4.0).sqrt()).abs() < 1e-14);
        assert!(trimmed_mean(Sample::new(&y).unwrap(), 0.5).is_err());
    }

    proptest! {
        #[test]
        fn trimmed_means_lie_in_their_interval(y in prop::collection::vec(-1e6f64..1e6, 4..40)) {
            let t = trimmed_mean(Sample::new(&y).unwrap(), 0.2).unwrap();
            let e = t.estimate(0.95).unwrap();
            prop_assert!(e.interval.holds(e.value) && e.interval.high.is_finite());
        }
    }
}
