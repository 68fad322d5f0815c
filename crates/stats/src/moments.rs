//! Mean, standard deviation, lag-1 autocorrelation and quantiles.
//!
//! All sums of squares are taken about the mean (two passes): the one-pass form returns 0 instead of 0.1 on the
//! certified data set NumAcc4 (NIST StRD).

use crate::error::{Result, StatsError};
use crate::sample::Sample;

/// The arithmetic mean, with the rounding error of the first sum corrected by a second pass.
pub fn mean(sample: Sample) -> f64 {
    raw_mean(sample.values())
}

/// The standard deviation with divisor n - 1.
///
/// # Errors
/// [`StatsError::TooFew`] below two values.
pub fn standard_deviation(sample: Sample) -> Result<f64> {
    Ok(variance(sample)?.sqrt())
}

/// The variance with divisor n - 1.
///
/// # Errors
/// [`StatsError::TooFew`] below two values.
pub fn variance(sample: Sample) -> Result<f64> {
    sample.need(2)?;
    Ok(raw_sum_of_squares(sample.values()) / (sample.len() - 1) as f64)
}

/// Lag-1 autocorrelation r1 = sum (y_i - m)(y_(i+1) - m) / sum (y_i - m)^2, in -1 to 1, as certified by NIST StRD.
///
/// # Errors
/// [`StatsError::TooFew`] below two values, [`StatsError::NoSpread`] if all are equal.
pub fn lag1_autocorrelation(sample: Sample) -> Result<f64> {
    sample.need(2)?;
    let y = sample.values();
    let m = raw_mean(y);
    let denominator = raw_sum_of_squares(y);
    if denominator <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let numerator: f64 = y.windows(2).map(|w| (w[0] - m) * (w[1] - m)).sum();
    Ok((numerator / denominator).clamp(-1.0, 1.0))
}

/// The quantile at `p` in 0 to 1 by linear interpolation between order statistics (type 7 of Hyndman & Fan 1996,
/// Am. Stat. 50:361; the default of NumPy).
///
/// # Errors
/// [`StatsError::OutOfRange`] if `p` is not in 0 to 1.
pub fn quantile(sample: Sample, p: f64) -> Result<f64> {
    if !(0.0..=1.0).contains(&p) {
        return Err(StatsError::OutOfRange { what: "quantile", allowed: "0 to 1" });
    }
    Ok(quantile_of_sorted(&sample.sorted(), p))
}

/// As [`quantile`], of values already in rising order; `sorted` must not be empty.
pub(crate) fn quantile_of_sorted(sorted: &[f64], p: f64) -> f64 {
    let place = p * (sorted.len() - 1) as f64;
    let below = place.floor() as usize;
    let above = (below + 1).min(sorted.len() - 1);
    sorted[below] + (place - below as f64) * (sorted[above] - sorted[below])
}

/// Mean of a non-empty slice.
pub(crate) fn raw_mean(y: &[f64]) -> f64 {
    let n = y.len() as f64;
    let first = y.iter().sum::<f64>() / n;
    first + y.iter().map(|v| v - first).sum::<f64>() / n
}

/// Sum of squares about the mean, with the correction of Chan, Golub & LeVeque (1983), Am. Stat. 37:242, eq. 1.7.
pub(crate) fn raw_sum_of_squares(y: &[f64]) -> f64 {
    let m = raw_mean(y);
    let (sum, squares) = y.iter().fold((0.0, 0.0), |(s, q), v| (s + (v - m), q + (v - m) * (v - m)));
    (squares - sum * sum / y.len() as f64).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Base followed by 500 pairs (base - 0.1, base + 0.1): how NIST StRD defines NumAcc2 to NumAcc4.
    fn num_acc(base: f64) -> Vec<f64> {
        let mut y = vec![base];
        for _ in 0..500 {
            y.extend([base - 0.1, base + 0.1]);
        }
        y
    }

    fn read(text: &str) -> Vec<f64> {
        text.lines()
            .filter(|l| !l.starts_with('#'))
            .flat_map(|l| l.split_whitespace())
            .map(|t| t.parse().unwrap())
            .collect()
    }

    /// Digits in which two numbers agree (NIST's log relative error).
    fn digits(got: f64, certified: f64) -> f64 {
        if got == certified { 16.0 } else { -((got - certified) / certified).abs().log10() }
    }

    #[test]
    fn nist_strd_univariate_certified_values() {
        // NIST Statistical Reference Datasets, univariate summary statistics: mean, SD, lag-1 autocorrelation. The
        // last column is the number of digits that the data's own representation as doubles lets anyone reach.
        type Certified = (&'static str, Vec<f64>, [f64; 3], [f64; 3]);
        let sets: [Certified; 7] = [
            ("NumAcc1", vec![10000001.0, 10000003.0, 10000002.0], [10000002.0, 1.0, -0.5], [15.0; 3]),
            ("NumAcc2", num_acc(1.2), [1.2, 0.1, -0.999], [14.0; 3]),
            ("NumAcc3", num_acc(1000000.2), [1000000.2, 0.1, -0.999], [15.0, 9.0, 10.0]),
            ("NumAcc4", num_acc(10000000.2), [10000000.2, 0.1, -0.999], [15.0, 8.0, 10.0]),
            (
                "Lew",
                read(include_str!("../tests/data/lew.txt")),
                [-177.435000000000, 277.332168044316, -0.307304800605679],
                [15.0, 14.5, 14.5],
            ),
            (
                "Mavro",
                read(include_str!("../tests/data/mavro.txt")),
                [2.00185600000000, 0.000429123454003053, 0.937989183438248],
                [15.0, 12.0, 12.0],
            ),
            (
                "Michelso",
                read(include_str!("../tests/data/michelso.txt")),
                [299.852400000000, 0.0790105478190518, 0.535199668621283],
                [15.0, 13.0, 13.0],
            ),
        ];
        for (name, y, certified, wanted) in sets {
            let s = Sample::new(&y).unwrap();
            let got = [mean(s), standard_deviation(s).unwrap(), lag1_autocorrelation(s).unwrap()];
            for k in 0..3 {
                let d = digits(got[k], certified[k]);
                assert!(d >= wanted[k], "{name} {k}: {} against {}, {d:.1} digits", got[k], certified[k]);
            }
        }
    }

    #[test]
    fn quantiles_interpolate_as_type_7() {
        let y = [3.0, 1.0, 4.0, 1.5];
        let s = Sample::new(&y).unwrap();
        // numpy.quantile([3, 1, 4, 1.5], [0, .25, .5, .9, 1]).
        for (p, q) in [(0.0, 1.0), (0.25, 1.375), (0.5, 2.25), (0.9, 3.7), (1.0, 4.0)] {
            assert!((quantile(s, p).unwrap() - q).abs() < 1e-12);
        }
        assert!(quantile(s, 1.1).is_err() && quantile(s, f64::NAN).is_err());
    }

    #[test]
    fn too_small_or_constant_samples_are_errors() {
        let one = Sample::new(&[1.0]).unwrap();
        assert_eq!(standard_deviation(one), Err(StatsError::TooFew { needed: 2, got: 1 }));
        assert_eq!(lag1_autocorrelation(Sample::new(&[2.0, 2.0]).unwrap()), Err(StatsError::NoSpread));
    }

    proptest! {
        #[test]
        fn quantiles_rise_and_stay_inside(y in prop::collection::vec(-1e50f64..1e50, 1..40), a in 0.0..1.0f64, b in 0.0..1.0f64) {
            let s = Sample::new(&y).unwrap();
            let (low, high) = (quantile(s, a.min(b)).unwrap(), quantile(s, a.max(b)).unwrap());
            let sorted = s.sorted();
            prop_assert!(sorted[0] <= low && low <= high && high <= sorted[y.len() - 1]);
            prop_assert!(mean(s).is_finite());
        }
    }
}
