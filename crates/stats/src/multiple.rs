//! Correction for having looked at several things.

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
}
