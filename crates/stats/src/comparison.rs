//! Classical tests used by the search for findings and by comparisons: Welch, Brown-Forsythe, ratio of SDs.

use crate::dist::{f_quantile, f_upper};
use crate::error::{Result, StatsError};
use crate::moments::{raw_mean, raw_sum_of_squares};
use crate::robust::{Difference, median, unequal_variance_test};
use crate::sample::{Estimate, Interval, Sample, check_confidence};

/// Difference of two means where spreads differ (Welch 1947, Biometrika 34:28).
///
/// # Errors
/// [`StatsError::TooFew`] if a sample holds fewer than two values, [`StatsError::NoSpread`] if neither scatters,
/// [`StatsError::OutOfRange`] for a bad confidence.
pub fn welch(first: Sample, second: Sample, confidence: f64) -> Result<Difference> {
    first.need(2)?;
    second.need(2)?;
    let squared_error = |s: Sample| {
        let n = s.len() as f64;
        raw_sum_of_squares(s.values()) / (n - 1.0) / n
    };
    unequal_variance_test(
        raw_mean(first.values()) - raw_mean(second.values()),
        [squared_error(first), squared_error(second)],
        [(first.len() - 1) as f64, (second.len() - 1) as f64],
        first.len() + second.len(),
        confidence,
    )
}

/// An F test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FTest {
    /// The ratio of mean squares.
    pub statistic: f64,
    /// Degrees of freedom between and within groups.
    pub degrees_of_freedom: [f64; 2],
    /// Chance of one at least as large where nothing differs.
    pub p: f64,
}

/// Whether spreads differ: analysis of variance of the distances from each group's median (Brown & Forsythe 1974,
/// J. Am. Stat. Assoc. 69:364).
///
/// # Errors
/// [`StatsError::TooFew`] for fewer than two groups or a group of one value, [`StatsError::NoSpread`] if the distances
/// do not scatter within any group.
pub fn brown_forsythe(groups: &[Sample]) -> Result<FTest> {
    if groups.len() < 2 {
        return Err(StatsError::TooFew { needed: 2, got: groups.len() });
    }
    let mut distances = Vec::with_capacity(groups.len());
    for g in groups {
        g.need(2)?;
        let m = median(*g);
        distances.push(g.values().iter().map(|v| (v - m).abs()).collect::<Vec<_>>());
    }
    let n: usize = groups.iter().map(|g| g.len()).sum();
    let all: Vec<f64> = distances.iter().flatten().copied().collect();
    let grand = raw_mean(&all);
    let within: f64 = distances.iter().map(|d| raw_sum_of_squares(d)).sum();
    let between: f64 = distances.iter().map(|d| d.len() as f64 * (raw_mean(d) - grand).powi(2)).sum();
    let df = [(groups.len() - 1) as f64, (n - groups.len()) as f64];
    if within <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let statistic = (between / df[0]) / (within / df[1]);
    Ok(FTest { statistic, degrees_of_freedom: df, p: f_upper(statistic, df[0], df[1]) })
}

/// The ratio of two SDs (first over second) with its F interval: right for normal data only.
///
/// # Errors
/// [`StatsError::TooFew`] if a sample holds fewer than two values, [`StatsError::NoSpread`] if either does not scatter,
/// [`StatsError::OutOfRange`] for a bad confidence.
pub fn sd_ratio(first: Sample, second: Sample, confidence: f64) -> Result<Estimate> {
    check_confidence(confidence)?;
    first.need(2)?;
    second.need(2)?;
    let df = [(first.len() - 1) as f64, (second.len() - 1) as f64];
    let variances = [raw_sum_of_squares(first.values()) / df[0], raw_sum_of_squares(second.values()) / df[1]];
    variance_ratio(variances, df, first.len() + second.len(), confidence)
}

/// As [`sd_ratio`], from two variances and their degrees of freedom (pooled spreads); `n` is passed on.
///
/// # Errors
/// [`StatsError::NoSpread`] unless both variances are above 0, [`StatsError::OutOfRange`] for a bad confidence,
/// [`StatsError::TooFew`] for degrees of freedom below 1.
pub fn variance_ratio(variances: [f64; 2], df: [f64; 2], n: usize, confidence: f64) -> Result<Estimate> {
    check_confidence(confidence)?;
    if !(df[0] >= 1.0 && df[1] >= 1.0) {
        return Err(StatsError::TooFew { needed: 2, got: 1 });
    }
    let ratio = variances[0] / variances[1];
    if !(variances[0] > 0.0 && variances[1] > 0.0 && ratio.is_finite() && ratio > 0.0) {
        return Err(StatsError::NoSpread);
    }
    let tail = 0.5 - 0.5 * confidence;
    let high = ratio * f_quantile(1.0 - tail, df[1], df[0]);
    let low = ratio / f_quantile(1.0 - tail, df[0], df[1]);
    Ok(Estimate { value: ratio.sqrt(), interval: Interval { low: low.sqrt(), high: high.sqrt() }, n })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn welch_of_a_worked_example() {
        // By hand:
        // difference -3.5, squared errors 5/12 and 2, df (29/12)^2 / ((5/12)^2/3 + 4/4).
        let (a, b) = ([1.0, 2.0, 3.0, 4.0], [2.0, 4.0, 6.0, 8.0, 10.0]);
        let d = welch(Sample::new(&a).unwrap(), Sample::new(&b).unwrap(), 0.95).unwrap();
        assert!((d.t + 3.5 / (29.0f64 / 12.0).sqrt()).abs() < 1e-14);
        assert!((d.degrees_of_freedom - (29.0f64 / 12.0).powi(2) / (25.0 / 432.0 + 1.0)).abs() < 1e-12);
        assert!(d.estimate.interval.holds(0.0) && d.p > 0.05);
    }

    #[test]
    fn spread_is_seen_and_location_is_not() {
        let narrow: Vec<f64> = (0..30).map(|k| f64::from(k % 7)).collect();
        let shifted: Vec<f64> = narrow.iter().map(|v| v + 100.0).collect();
        let wide: Vec<f64> = narrow.iter().map(|v| v * 4.0).collect();
        let test =
            |a: &[f64], b: &[f64]| brown_forsythe(&[Sample::new(a).unwrap(), Sample::new(b).unwrap()]).unwrap().p;
        assert!(test(&narrow, &shifted) > 0.999 && test(&narrow, &wide) < 1e-6);
    }

    #[test]
    fn what_cannot_be_tested_is_an_error() {
        let (one, same, two) = ([1.0], [2.0, 2.0], [1.0, 2.0]);
        let s = |v| Sample::new(v).unwrap();
        assert!(welch(s(&one), s(&two), 0.95).is_err());
        assert_eq!(welch(s(&same), s(&same), 0.95), Err(StatsError::NoSpread));
        assert!(brown_forsythe(&[s(&two)]).is_err() && brown_forsythe(&[s(&two), s(&one)]).is_err());
        assert_eq!(sd_ratio(s(&same), s(&two), 0.95), Err(StatsError::NoSpread));
    }

    proptest! {
        #[test]
        fn differences_and_ratios_lie_in_their_intervals(
            a in prop::collection::vec(-1e4f64..1e4, 2..30), b in prop::collection::vec(-1e4f64..1e4, 2..30)
        ) {
            let (a, b) = (Sample::new(&a).unwrap(), Sample::new(&b).unwrap());
            let d = welch(a, b, 0.95).unwrap();
            prop_assert!(d.estimate.interval.holds(d.estimate.value) && (0.0..=1.0).contains(&d.p));
            let r = sd_ratio(a, b, 0.95).unwrap();
            prop_assert!(r.interval.holds(r.value) && r.interval.high.is_finite());
        }
    }
}
