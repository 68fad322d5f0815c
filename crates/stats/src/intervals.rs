//! Intervals for rates, standard deviations and means, and the chance of a value outside a limit.

use crate::dist::{beta_quantile, chi_square_quantile, normal_quantile, t_quantile, t_upper};
use crate::error::{Result, StatsError};
use crate::moments::{raw_mean, raw_sum_of_squares};
use crate::sample::{Estimate, Interval, Sample, check_confidence};

fn check_count(hits: usize, n: usize) -> Result<()> {
    if n == 0 {
        Err(StatsError::Empty)
    } else if hits > n {
        Err(StatsError::OutOfRange { what: "count", allowed: "at most the number tried" })
    } else {
        Ok(())
    }
}

/// `hits` of `n` as a rate with the score interval (Wilson 1927, J. Am. Stat. Assoc. 22:209).
///
/// # Errors
/// [`StatsError::Empty`] for n = 0, [`StatsError::OutOfRange`] for hits > n or a confidence not between 0 and 1.
pub fn wilson(hits: usize, n: usize, confidence: f64) -> Result<Estimate> {
    check_count(hits, n)?;
    check_confidence(confidence)?;
    let (size, rate) = (n as f64, hits as f64 / n as f64);
    let z = normal_quantile(0.5 + 0.5 * confidence);
    let middle = (rate + z * z / (2.0 * size)) / (1.0 + z * z / size);
    let reach = z / (1.0 + z * z / size) * (rate * (1.0 - rate) / size + z * z / (4.0 * size * size)).sqrt();
    // At 0 and n of n the end is the rate itself; rounding must not put it on the wrong side.
    let low = if hits == 0 { 0.0 } else { (middle - reach).clamp(0.0, rate) };
    let high = if hits == n { 1.0 } else { (middle + reach).clamp(rate, 1.0) };
    Ok(Estimate { value: rate, interval: Interval { low, high }, n })
}

/// `hits` of `n` as a rate with the exact interval (Clopper & Pearson 1934, Biometrika 26:404).
///
/// # Errors
/// As [`wilson`].
pub fn clopper_pearson(hits: usize, n: usize, confidence: f64) -> Result<Estimate> {
    check_count(hits, n)?;
    check_confidence(confidence)?;
    let tail = 0.5 - 0.5 * confidence;
    let low = if hits == 0 { 0.0 } else { beta_quantile(tail, hits as f64, (n - hits + 1) as f64) };
    let high = exact_upper(hits, n, 1.0 - tail);
    Ok(Estimate { value: hits as f64 / n as f64, interval: Interval { low, high }, n })
}

/// The exact one-sided upper limit of a rate: 0 of 100 at 95 % is 0.0295, the "rule of three".
///
/// # Errors
/// As [`wilson`].
pub fn rate_upper_limit(hits: usize, n: usize, confidence: f64) -> Result<f64> {
    check_count(hits, n)?;
    check_confidence(confidence)?;
    Ok(exact_upper(hits, n, confidence))
}

fn exact_upper(hits: usize, n: usize, confidence: f64) -> f64 {
    if hits == n { 1.0 } else { beta_quantile(confidence, (hits + 1) as f64, (n - hits) as f64) }
}

/// The mean with its interval by Student's t.
///
/// # Errors
/// [`StatsError::TooFew`] below two values, [`StatsError::OutOfRange`] for a confidence not between 0 and 1.
pub fn mean_interval(sample: Sample, confidence: f64) -> Result<Estimate> {
    sample.need(2)?;
    check_confidence(confidence)?;
    let n = sample.len() as f64;
    let value = raw_mean(sample.values());
    let se = (raw_sum_of_squares(sample.values()) / (n - 1.0) / n).sqrt();
    let reach = t_quantile(0.5 + 0.5 * confidence, n - 1.0) * se;
    Ok(Estimate { value, interval: Interval { low: value - reach, high: value + reach }, n: sample.len() })
}

/// Limits of a variance estimated with `df` degrees of freedom from normal data: df s^2 over the chi-square quantiles
/// (Fisher; e.g. NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.8).
///
/// # Errors
/// [`StatsError::TooFew`] for df = 0, [`StatsError::OutOfRange`] for a negative variance or a bad confidence.
pub fn variance_interval(variance: f64, df: usize, confidence: f64) -> Result<Interval> {
    check_confidence(confidence)?;
    if df == 0 {
        return Err(StatsError::TooFew { needed: 2, got: 1 });
    }
    if !(0.0..1e120).contains(&variance) {
        return Err(StatsError::OutOfRange { what: "variance", allowed: "0 or above" });
    }
    let df = df as f64;
    Ok(Interval {
        low: df * variance / chi_square_quantile(0.5 + 0.5 * confidence, df),
        high: df * variance / chi_square_quantile(0.5 - 0.5 * confidence, df),
    })
}

/// The SD (divisor n - 1) with its chi-square interval: right for normal data; for others use
/// [`crate::bootstrap::percentile`].
///
/// # Errors
/// [`StatsError::TooFew`] below two values, [`StatsError::OutOfRange`] for a bad confidence.
pub fn sd_interval(sample: Sample, confidence: f64) -> Result<Estimate> {
    sample.need(2)?;
    let df = sample.len() - 1;
    let variance = raw_sum_of_squares(sample.values()) / df as f64;
    let v = variance_interval(variance, df, confidence)?;
    Ok(Estimate {
        value: variance.sqrt(),
        interval: Interval { low: v.low.sqrt(), high: v.high.sqrt() },
        n: sample.len(),
    })
}

/// The chance that the next value of a normal process falls outside -`limit` to `limit`, given mean and SD of `n`
/// values: the predictive t with n - 1 degrees of freedom and scale SD sqrt(1 + 1/n) (Gelman et al. 2013, Bayesian
/// Data Analysis, 3rd ed., sect. 3.2). Wider than the plug-in normal, as it must be for small n.
///
/// # Errors
/// [`StatsError::TooFew`] below two values, [`StatsError::OutOfRange`] for a limit that is not above 0 or a spread
/// below 0, [`StatsError::NotFinite`] for a mean that is no number.
pub fn chance_outside(mean: f64, spread: f64, n: usize, limit: f64) -> Result<f64> {
    if n < 2 {
        return Err(StatsError::TooFew { needed: 2, got: n });
    }
    if !(limit > 0.0 && limit.is_finite()) {
        return Err(StatsError::OutOfRange { what: "limit", allowed: "above 0" });
    }
    if !(spread >= 0.0 && spread.is_finite()) {
        return Err(StatsError::OutOfRange { what: "spread", allowed: "0 or above" });
    }
    if !mean.is_finite() {
        return Err(StatsError::NotFinite { index: 0 });
    }
    let df = (n - 1) as f64;
    let scale = spread * (1.0 + 1.0 / n as f64).sqrt();
    if scale <= 0.0 {
        return Ok(if mean.abs() > limit { 1.0 } else { 0.0 });
    }
    let above = t_upper((limit - mean) / scale, df);
    let below = t_upper((limit + mean) / scale, df);
    Ok((above + below).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn none_in_a_hundred_is_at_most_three_in_a_hundred() {
        // Closed form for 0 hits: 1 - 0.05^(1/n).
        let upper = rate_upper_limit(0, 100, 0.95).unwrap();
        assert!((upper - (1.0 - 0.05f64.powf(0.01))).abs() < 1e-12);
        assert_eq!(format!("{:.1}", 100.0 * upper), "3.0");
        assert_eq!(rate_upper_limit(5, 5, 0.95), Ok(1.0));
    }

    #[test]
    fn wilson_interval_of_a_published_example() {
        // Newcombe (1998), Stat. Med. 17:857, table I, method 3: 81 of 263 gives 0.2553 to 0.3662.
        let e = wilson(81, 263, 0.95).unwrap();
        assert_eq!(format!("{:.4} {:.4}", e.interval.low, e.interval.high), "0.2553 0.3662");
        // The same table, method 5 (Clopper-Pearson): 0.2527 to 0.3676.
        let e = clopper_pearson(81, 263, 0.95).unwrap();
        assert_eq!(format!("{:.4} {:.4}", e.interval.low, e.interval.high), "0.2527 0.3676");
    }

    #[test]
    fn bad_counts_are_errors() {
        assert_eq!(wilson(0, 0, 0.95), Err(StatsError::Empty));
        assert!(clopper_pearson(3, 2, 0.95).is_err() && wilson(1, 2, 1.0).is_err() && wilson(1, 2, f64::NAN).is_err());
    }

    #[test]
    fn the_chance_outside_grows_with_the_spread_and_as_n_falls() {
        let at = |spread, n| chance_outside(0.0, spread, n, 20.0).unwrap();
        assert!(at(5.0, 50) < at(10.0, 50) && at(10.0, 50) < at(10.0, 5));
        // For many values it is the normal tail: 2 (1 - Phi(2)) = 0.0455.
        assert!((at(10.0, 1_000_000) - 0.045_500_263_9).abs() < 1e-5);
        assert_eq!(chance_outside(30.0, 0.0, 9, 20.0), Ok(1.0));
        assert_eq!(chance_outside(0.0, 0.0, 9, 20.0), Ok(0.0));
        assert!(chance_outside(f64::NAN, 1.0, 9, 1.0).is_err() && chance_outside(0.0, 1.0, 9, 0.0).is_err());
    }

    proptest! {
        #[test]
        fn rates_lie_in_their_intervals(n in 1usize..400, part in 0.0..=1.0f64, confidence in 0.5..0.999f64) {
            let hits = (part * n as f64) as usize;
            for e in [wilson(hits, n, confidence).unwrap(), clopper_pearson(hits, n, confidence).unwrap()] {
                prop_assert!(e.interval.holds(e.value), "{e:?}");
                prop_assert!(e.interval.low >= 0.0 && e.interval.high <= 1.0);
            }
        }

        #[test]
        fn sd_lies_in_its_interval(y in prop::collection::vec(-1e9f64..1e9, 2..60)) {
            let e = sd_interval(Sample::new(&y).unwrap(), 0.95).unwrap();
            prop_assert!(e.interval.holds(e.value) && e.interval.high.is_finite());
        }
    }
}
