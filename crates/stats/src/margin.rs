//! Margin: how many spreads fit between a group's bias and the limit.

use crate::error::{Result, StatsError};

/// A margin with its standard error, both in spreads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margin {
    /// (limit - |bias|) / spread; below 0 where the bias alone is beyond the limit.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
}

/// (limit - |bias|) / spread with its standard error by the delta method (Casella & Berger 2002, Statistical Inference,
/// sect. 5.5.4): SE^2 = (SE of bias / spread)^2 + margin^2 / (2 df), since an SD from `df` degrees of freedom of normal data has
/// relative variance 1/(2 df). All in one unit.
///
/// # Errors
/// [`StatsError::NoSpread`] unless the spread is above 0, [`StatsError::TooFew`] for df = 0, [`StatsError::OutOfRange`] for a
/// limit not above 0 or a standard error below 0, [`StatsError::NotFinite`] for a bias that is no usable number.
pub fn margin(limit: f64, bias: f64, bias_standard_error: f64, spread: f64, df: usize) -> Result<Margin> {
    if !(limit > 0.0 && limit < 1e60) {
        return Err(StatsError::OutOfRange { what: "limit", allowed: "above 0" });
    }
    if !(0.0..1e60).contains(&bias_standard_error) {
        return Err(StatsError::OutOfRange { what: "standard error", allowed: "0 or above" });
    }
    if bias.is_nan() || bias.abs() >= 1e60 {
        return Err(StatsError::NotFinite { index: 0 });
    }
    if !(spread > 1e-60 && spread < 1e60) {
        return Err(StatsError::NoSpread);
    }
    if df == 0 {
        return Err(StatsError::TooFew { needed: 2, got: 1 });
    }
    let value = (limit - bias.abs()) / spread;
    let standard_error = (bias_standard_error / spread).hypot(value / (2.0 * df as f64).sqrt());
    Ok(Margin { value, standard_error })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Seeded;

    #[test]
    fn the_standard_error_is_that_of_repeated_takes() {
        let mut rng = Seeded::new(4);
        let n = 40;
        let margins: Vec<f64> = (0..4000)
            .map(|_| {
                let y: Vec<f64> = (0..n).map(|_| 5.0 + 4.0 * rng.normal()).collect();
                let mean = y.iter().sum::<f64>() / n as f64;
                let sd = (y.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt();
                margin(23.0, mean, sd / (n as f64).sqrt(), sd, n - 1).unwrap().value
            })
            .collect();
        let mean = margins.iter().sum::<f64>() / 4000.0;
        let seen = (margins.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / 3999.0).sqrt();
        let said = margin(23.0, 5.0, 4.0 / 40f64.sqrt(), 4.0, 39).unwrap();
        assert_eq!(said.value, 4.5);
        // The delta method is of first order: within 8 % here.
        assert!((seen / said.standard_error - 1.0).abs() < 0.08, "{seen} {said:?}");
    }

    #[test]
    fn a_bias_beyond_the_limit_has_a_negative_margin_and_mistakes_are_errors() {
        assert!(margin(10.0, -14.0, 1.0, 2.0, 9).unwrap().value < 0.0);
        assert_eq!(margin(10.0, 1.0, 1.0, 0.0, 9), Err(StatsError::NoSpread));
        assert!(margin(0.0, 1.0, 1.0, 1.0, 9).is_err() && margin(1.0, f64::NAN, 1.0, 1.0, 9).is_err());
        assert!(margin(1.0, 1.0, -1.0, 1.0, 9).is_err() && margin(1.0, 1.0, 1.0, 1.0, 0).is_err());
    }
}
