//! Differences between takes, honest about how much takes differ on their own.
//!
//! An interval from within one take alone calls most unchanged pairs of takes different: a player's bias and spread
//! wander from take to take. The variance of that wandering comes from earlier takes and enters every difference.

use crate::dist::{t_quantile, t_two_sided};
use crate::error::{Result, StatsError};
use crate::sample::{Estimate, Interval, Sample, check_confidence, same_length};

/// How much a figure varies from take to take beyond its own standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TakeVariance {
    /// Variance, in the square of the figure's unit, signed: below 0 where takes differ less than their errors suggest.
    pub variance: f64,
    /// Effective degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Number of takes.
    pub n: usize,
}

/// From the figures of successive unchanged-routine takes and their standard errors: half the mean squared successive
/// difference (von Neumann, Kent, Bellinson & Hart 1941, Ann. Math. Stat. 12:153), which a slow trend does not swell, less
/// the mean squared error. Its efficiency is 2/3 that of the variance, hence 2(n - 1)/3 degrees of freedom.
///
/// # Errors
/// [`StatsError::TooFew`] below five takes, [`StatsError::LengthMismatch`], [`StatsError::OutOfRange`] for an error below 0.
pub fn take_variance(values: Sample, standard_errors: Sample) -> Result<TakeVariance> {
    same_length(values.len(), standard_errors.len())?;
    values.need(5)?;
    if standard_errors.values().iter().any(|&s| s < 0.0) {
        return Err(StatsError::OutOfRange { what: "standard error", allowed: "0 or above" });
    }
    let steps = (values.len() - 1) as f64;
    let successive = values.values().windows(2).map(|w| (w[1] - w[0]).powi(2)).sum::<f64>() / (2.0 * steps);
    let own = standard_errors.values().iter().map(|s| s * s).sum::<f64>() / values.len() as f64;
    Ok(TakeVariance { variance: successive - own, degrees_of_freedom: 2.0 * steps / 3.0, n: values.len() })
}

/// A figure of one take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TakeFigure {
    /// The figure.
    pub value: f64,
    /// Its standard error from within the take.
    pub standard_error: f64,
}

/// A difference between two sets of takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TakeDifference {
    /// Mean of the second set less mean of the first; n counts the takes.
    pub difference: Estimate,
    /// Two-sided p.
    pub p: f64,
}

/// Compares sets of takes (one or more each): the squared error of each mean is (take-to-take variance + mean squared standard
/// error) / number of takes, so that for single takes the reach is t sqrt(2) sqrt(take-to-take variance + SE^2). A
/// negative variance counts as 0 here: takes cannot differ by less than not at all.
///
/// # Errors
/// [`StatsError::Empty`] for a set without takes, [`StatsError::OutOfRange`] for a standard error below 0 or a bad confidence,
/// [`StatsError::NotFinite`], [`StatsError::NoSpread`] if neither takes nor errors vary.
pub fn compare_takes(
    first: &[TakeFigure],
    second: &[TakeFigure],
    between: TakeVariance,
    confidence: f64,
) -> Result<TakeDifference> {
    check_confidence(confidence)?;
    if !(between.variance.abs() < 1e120 && between.degrees_of_freedom >= 1.0) {
        return Err(StatsError::OutOfRange { what: "take-to-take variance", allowed: "finite, from at least 3 takes" });
    }
    let variance = between.variance.max(0.0);
    let side = |figures: &[TakeFigure]| -> Result<(f64, f64)> {
        let values: Vec<f64> = figures.iter().map(|f| f.value).collect();
        let errors: Vec<f64> = figures.iter().map(|f| f.standard_error).collect();
        let (values, errors) = (Sample::new(&values)?, Sample::new(&errors)?);
        if errors.values().iter().any(|&e| e < 0.0) {
            return Err(StatsError::OutOfRange { what: "standard error", allowed: "0 or above" });
        }
        let m = figures.len() as f64;
        let own = errors.values().iter().map(|e| e * e).sum::<f64>() / m;
        Ok((crate::moments::mean(values), (variance + own) / m))
    };
    let ((a, error_a), (b, error_b)) = (side(first)?, side(second)?);
    let se = (error_a + error_b).sqrt();
    if se <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let value = b - a;
    let df = between.degrees_of_freedom;
    let reach = t_quantile(0.5 + 0.5 * confidence, df) * se;
    let interval = Interval { low: value - reach, high: value + reach };
    let n = first.len() + second.len();
    Ok(TakeDifference { difference: Estimate { value, interval, n }, p: t_two_sided(value / se, df) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Seeded;

    #[test]
    fn unchanged_pairs_are_called_different_one_time_in_twenty() {
        // Takes wander with SD 2, each figure has a standard error of 1; 25 earlier takes.
        let mut rng = Seeded::new(14);
        let runs = 2000;
        let (mut wrong, mut naive) = (0, 0);
        for _ in 0..runs {
            let mut draw = || 10.0 + 2.0 * rng.normal() + rng.normal();
            let history: Vec<f64> = (0..25).map(|_| draw()).collect();
            let v = take_variance(Sample::new(&history).unwrap(), Sample::new(&[1.0; 25]).unwrap()).unwrap();
            let (a, b) = (draw(), draw());
            let figure = |value| [TakeFigure { value, standard_error: 1.0 }];
            let d = compare_takes(&figure(a), &figure(b), v, 0.95).unwrap();
            wrong += u32::from(!d.difference.interval.holds(0.0));
            naive += u32::from((a - b).abs() > 1.96 * 2f64.sqrt());
        }
        // 100 of 2000 with a standard error of 10; the within-take interval alone is wrong in more than a third.
        assert!((60..=140).contains(&wrong), "{wrong} of {runs}");
        assert!(naive > 600, "{naive}");
    }

    #[test]
    fn a_slow_trend_does_not_swell_the_variance() {
        let mut rng = Seeded::new(3);
        let y: Vec<f64> = (0..400).map(|k| 0.1 * f64::from(k) + 2.0 * rng.normal()).collect();
        let v = take_variance(Sample::new(&y).unwrap(), Sample::new(&[0.0; 400]).unwrap()).unwrap();
        assert!((v.variance - 4.0).abs() < 1.0, "{v:?}");
    }

    #[test]
    fn mistakes_are_errors() {
        let v = TakeVariance { variance: -1.0, degrees_of_freedom: 5.0, n: 8 };
        let exact = [TakeFigure { value: 1.0, standard_error: 0.0 }];
        assert_eq!(compare_takes(&exact, &exact, v, 0.95), Err(StatsError::NoSpread));
        assert_eq!(compare_takes(&exact, &[], v, 0.95), Err(StatsError::Empty));
        let s = Sample::new(&[1.0; 4]).unwrap();
        assert_eq!(take_variance(s, s), Err(StatsError::TooFew { needed: 5, got: 4 }));
    }
}
