//! A single change along a take: of the mean, or of the spread, at the point that fits best.
//!
//! The statistic is the largest standardised difference over all points with enough values on both sides; its null
//! distribution comes from permutation, as it is not that of a single test (Worsley 1986, Biometrika 73:91, for the
//! problem).

use crate::error::{Result, StatsError};
use crate::permutation::test_within_blocks;
use crate::robust::median;
use crate::sample::Sample;

/// What is sought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    /// A step of the mean.
    Mean,
    /// A step of the spread: of the mean distance from the median (as in Brown & Forsythe 1974).
    Spread,
}

/// The best single change point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChangePoint {
    /// Index of the first value after the change.
    pub index: usize,
    /// For [`Change::Mean`] the mean after less the mean before, in the values' unit; for [`Change::Spread`] the mean
    /// distance from the median after over that before, a ratio.
    pub size: f64,
    /// Chance of so clear a change where the order of the values means nothing.
    pub p: f64,
    /// Values before and after.
    pub n: [usize; 2],
}

/// Seeks one change with at least `least` values on either side.
///
/// # Errors
/// [`StatsError::TooFew`] for fewer than 2 `least` values; [`StatsError::OutOfRange`] for `least` below 3 or no
/// permutations; [`StatsError::NoSpread`] if nothing scatters.
pub fn change_point(
    values: Sample,
    change: Change,
    least: usize,
    permutations: usize,
    seed: u64,
) -> Result<ChangePoint> {
    if least < 3 {
        return Err(StatsError::OutOfRange { what: "number of values on a side", allowed: "at least 3" });
    }
    values.need(2 * least)?;
    let y: Vec<f64> = match change {
        Change::Mean => values.values().to_vec(),
        Change::Spread => {
            let m = median(values);
            values.values().iter().map(|v| (v - m).abs()).collect()
        }
    };
    let sample = Sample::new(&y)?;
    if crate::moments::raw_sum_of_squares(&y) <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let test = test_within_blocks(sample, &vec![0; y.len()], permutations, seed, |v| best_split(v, least).1)?;
    let index = best_split(&y, least).0;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let (before, after) = (mean(&y[..index]), mean(&y[index..]));
    let size = match change {
        Change::Mean => after - before,
        Change::Spread if before > 0.0 => after / before,
        // No distance at all before it: there is no ratio to tell.
        Change::Spread => return Err(StatsError::NoSpread),
    };
    Ok(ChangePoint { index, size, p: test.p, n: [index, y.len() - index] })
}

/// Where k(n - k)/n (mean difference)^2 is largest, and that value: the sum of squares that the step explains.
fn best_split(y: &[f64], least: usize) -> (usize, f64) {
    let n = y.len() as f64;
    let whole: f64 = y.iter().sum();
    let mut sum: f64 = y[..least - 1].iter().sum();
    let mut best = (least, f64::MIN);
    for k in least..=y.len() - least {
        sum += y[k - 1];
        let before = k as f64;
        let difference = sum / before - (whole - sum) / (n - before);
        let explained = before * (n - before) / n * difference * difference;
        if explained > best.1 {
            best = (k, explained);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Seeded;

    fn noise(seed: u64, n: usize) -> Vec<f64> {
        let mut rng = Seeded::new(seed);
        (0..n).map(|_| rng.normal()).collect()
    }

    #[test]
    fn a_step_is_found_where_it_is() {
        let y: Vec<f64> = noise(3, 100).iter().enumerate().map(|(k, v)| v + if k >= 60 { 3.0 } else { 0.0 }).collect();
        let c = change_point(Sample::new(&y).unwrap(), Change::Mean, 5, 999, 1).unwrap();
        assert!(c.index.abs_diff(60) <= 2 && (c.size - 3.0).abs() < 0.8 && c.p == 0.001, "{c:?}");
    }

    #[test]
    fn a_change_of_spread_is_found_though_the_mean_stays() {
        let y: Vec<f64> = noise(4, 120).iter().enumerate().map(|(k, v)| v * if k >= 70 { 4.0 } else { 1.0 }).collect();
        let s = Sample::new(&y).unwrap();
        let c = change_point(s, Change::Spread, 5, 999, 1).unwrap();
        assert!(c.index.abs_diff(70) <= 10 && c.size > 2.5 && c.size < 6.5 && c.p <= 0.01, "{c:?}");
    }

    #[test]
    fn noise_alone_is_called_changed_one_time_in_twenty() {
        let called = (0..200u64)
            .filter(|&k| {
                let y = noise(100 + k, 60);
                change_point(Sample::new(&y).unwrap(), Change::Mean, 5, 199, k).unwrap().p <= 0.05
            })
            .count();
        // 10 of 200, four standard errors of 3.1 either way.
        assert!(called <= 22, "{called}");
    }

    #[test]
    fn mistakes_are_errors() {
        let y = [1.0; 12];
        let s = Sample::new(&y).unwrap();
        assert_eq!(change_point(s, Change::Mean, 5, 99, 1), Err(StatsError::NoSpread));
        assert!(change_point(s, Change::Mean, 7, 99, 1).is_err() && change_point(s, Change::Mean, 2, 99, 1).is_err());
    }
}
