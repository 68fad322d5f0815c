//! Correction for having looked at several things.

use crate::dist::normal_quantile;
use crate::error::{Result, StatsError};

/// Holm's step-down adjusted p-values, in the order given (Holm 1979, Scand. J. Stat. 6:65).
///
/// # Errors
/// [`StatsError::OutOfRange`] if a p-value is not in 0 to 1.
pub fn holm(p_values: &[f64]) -> Result<Vec<f64>> {
    if !p_values.iter().all(|p| (0.0..=1.0).contains(p)) {
        return Err(StatsError::OutOfRange { what: "p-value", allowed: "0 to 1" });
    }
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|&a, &b| p_values[a].total_cmp(&p_values[b]).then(a.cmp(&b)));
    let mut adjusted = vec![0.0; p_values.len()];
    let mut largest = 0.0f64;
    for (rank, &index) in order.iter().enumerate() {
        largest = largest.max(p_values[index] * (p_values.len() - rank) as f64).min(1.0);
        adjusted[index] = largest;
    }
    Ok(adjusted)
}

/// How many times as far from its estimate each of `intervals` ends must reach, so that all of them hold together as
/// surely as one of `level` does alone (Bonferroni; normal errors). 1 for one interval, or for a level that is none.
pub fn wider_together(intervals: usize, level: f64) -> f64 {
    if intervals < 2 || !(level > 0.0 && level < 1.0) {
        return 1.0;
    }
    let reach = |share: f64| -normal_quantile(0.5 * share);
    let (miss, many) = (1.0 - level, intervals as f64);
    (reach(miss / many) / reach(miss)).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn adjusted_values_of_the_usual_example() {
        // By hand: 4 x 0.01, then 3 x 0.02, 2 x 0.03 and 0.04, none below the one before it.
        let a = holm(&[0.04, 0.01, 0.03, 0.02]).unwrap();
        for (got, wanted) in a.iter().zip([0.06, 0.04, 0.06, 0.06]) {
            assert!((got - wanted).abs() < 1e-15);
        }
        assert_eq!(holm(&[0.6, 0.7]), Ok(vec![1.0, 1.0]));
        assert_eq!(holm(&[]), Ok(vec![]));
        assert!(holm(&[f64::NAN]).is_err());
    }

    #[test]
    fn intervals_that_hold_together_reach_further() {
        // Normal deviates from tables: 1.959964 for 0.05 of both sides, 2.575829 for 0.01, 3.023341 for 0.0025.
        assert_eq!((wider_together(0, 0.95), wider_together(1, 0.95)), (1.0, 1.0));
        assert!((wider_together(5, 0.95) - 2.575_829 / 1.959_964).abs() < 1e-5);
        assert!((wider_together(20, 0.95) - 3.023_341 / 1.959_964).abs() < 1e-5);
        assert_eq!((wider_together(9, 0.0), wider_together(9, f64::NAN)), (1.0, 1.0));
    }
}
