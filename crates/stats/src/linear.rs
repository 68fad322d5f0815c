//! Least squares for small designs (about ten columns at most) by Householder reflections, which keep the digits that
//! normal equations lose (Golub & Van Loan 2013, Matrix Computations, 4th ed., sect. 5.3).

use crate::dist::t_quantile;
use crate::error::{Result, StatsError};
use crate::sample::{Estimate, Interval, Sample, check_confidence, same_length};

/// A column whose part not explained by the columns before it is smaller than this share of it counts as dependent.
const DEPENDENT: f64 = 1e-10;

/// A weighted least-squares fit.
#[derive(Debug, Clone, PartialEq)]
pub struct LinearFit {
    /// One coefficient a column.
    pub coefficients: Vec<f64>,
    /// (X'WX)^-1, row by row: times the residual variance it is the covariance of the coefficients.
    pub unscaled_covariance: Vec<Vec<f64>>,
    /// Weighted sum of squared residuals.
    pub residual_sum_of_squares: f64,
    /// Rows minus columns.
    pub degrees_of_freedom: usize,
}

impl LinearFit {
    /// Standard errors of the coefficients, with the residual variance estimated from the fit; `None` where there are no
    /// degrees of freedom to estimate it from.
    pub fn standard_errors(&self) -> Option<Vec<f64>> {
        (self.degrees_of_freedom > 0).then(|| {
            let variance = self.residual_sum_of_squares / self.degrees_of_freedom as f64;
            self.unscaled_covariance.iter().enumerate().map(|(k, row)| (variance * row[k]).sqrt()).collect()
        })
    }

    /// A coefficient with its interval by Student's t, the residual variance estimated from the fit.
    ///
    /// # Errors
    /// [`StatsError::OutOfRange`] for no such coefficient or a confidence not between 0 and 1; [`StatsError::TooFew`] without
    /// degrees of freedom.
    pub fn estimate(&self, coefficient: usize, confidence: f64) -> Result<Estimate> {
        check_confidence(confidence)?;
        let (width, df) = (self.coefficients.len(), self.degrees_of_freedom);
        let errors = self.standard_errors().ok_or(StatsError::TooFew { needed: width + 1, got: width })?;
        let (Some(value), Some(error)) = (self.coefficients.get(coefficient), errors.get(coefficient)) else {
            return Err(StatsError::OutOfRange { what: "coefficient", allowed: "one of the fit's columns" });
        };
        let reach = t_quantile(0.5 + 0.5 * confidence, df as f64) * error;
        Ok(Estimate { value: *value, interval: Interval { low: value - reach, high: value + reach }, n: width + df })
    }
}

/// Fits `y` by the columns, each row with its weight (an inverse variance, up to a factor).
///
/// # Errors
/// [`StatsError::LengthMismatch`]; [`StatsError::TooFew`] with fewer rows than columns; [`StatsError::OutOfRange`] for a weight below
/// 0; [`StatsError::NotFinite`]; [`StatsError::Singular`] if the columns depend on one another.
pub fn least_squares(columns: &[Vec<f64>], y: Sample, weights: Sample) -> Result<LinearFit> {
    let (rows, width) = (y.len(), columns.len());
    same_length(rows, weights.len())?;
    if width == 0 {
        return Err(StatsError::Empty);
    }
    y.need(width)?;
    if weights.values().iter().any(|&w| w < 0.0) {
        return Err(StatsError::OutOfRange { what: "weight", allowed: "0 or above" });
    }
    let roots: Vec<f64> = weights.values().iter().map(|w| w.sqrt()).collect();
    let mut a = Vec::with_capacity(width + 1);
    for column in columns {
        same_length(rows, column.len())?;
        Sample::new(column)?;
        a.push(column.iter().zip(&roots).map(|(c, r)| c * r).collect::<Vec<f64>>());
    }
    a.push(y.values().iter().zip(&roots).map(|(v, r)| v * r).collect());
    let diagonal = triangulate(&mut a, width)?;
    let residual_sum_of_squares = a[width][width..].iter().map(|r| r * r).sum();
    let coefficients = back_substitute(&a, &diagonal, &a[width][..width]);
    let inverse: Vec<Vec<f64>> = (0..width)
        .map(|k| {
            let unit: Vec<f64> = (0..width).map(|i| f64::from(u8::from(i == k))).collect();
            back_substitute(&a, &diagonal, &unit)
        })
        .collect();
    // inverse[k] is column k of R^-1; the covariance is R^-1 R^-T.
    let unscaled_covariance = (0..width)
        .map(|i| (0..width).map(|j| inverse.iter().map(|column| column[i] * column[j]).sum()).collect())
        .collect();
    Ok(LinearFit { coefficients, unscaled_covariance, residual_sum_of_squares, degrees_of_freedom: rows - width })
}

/// Turns the first `width` columns into the upper triangle R in place (strictly above the diagonal in `a[j][..j]`) and
/// applies the same reflections to the rest; gives back the diagonal of R.
fn triangulate(a: &mut [Vec<f64>], width: usize) -> Result<Vec<f64>> {
    let size = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>().sqrt();
    let whole: Vec<f64> = a[..width].iter().map(|c| size(c)).collect();
    let mut diagonal = Vec::with_capacity(width);
    for k in 0..width {
        let length = size(&a[k][k..]);
        if length <= DEPENDENT * whole[k] || length <= 0.0 {
            return Err(StatsError::Singular);
        }
        let (done, rest) = a.split_at_mut(k + 1);
        let mirror = &mut done[k][k..];
        let r = if mirror[0] > 0.0 { -length } else { length };
        mirror[0] -= r;
        let half = -r * mirror[0];
        for column in rest {
            let tail = &mut column[k..];
            let share = mirror.iter().zip(tail.iter()).map(|(m, t)| m * t).sum::<f64>() / half;
            for (t, m) in tail.iter_mut().zip(mirror.iter()) {
                *t -= share * m;
            }
        }
        diagonal.push(r);
    }
    Ok(diagonal)
}

fn back_substitute(a: &[Vec<f64>], diagonal: &[f64], right: &[f64]) -> Vec<f64> {
    let width = diagonal.len();
    let mut x = vec![0.0; width];
    for i in (0..width).rev() {
        let known: f64 = (i + 1..width).map(|j| a[j][i] * x[j]).sum();
        x[i] = (right[i] - known) / diagonal[i];
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn powers(x: &[f64], up_to: i32) -> Vec<Vec<f64>> {
        (0..=up_to).map(|k| x.iter().map(|v| v.powi(k)).collect()).collect()
    }

    #[test]
    fn nist_strd_wampler_polynomials() {
        // NIST StRD linear regression, Wampler1 and Wampler2, generated from their definition: x = 0..20 and
        // y = sum x^k, y = sum (0.1 x)^k, k = 0 to 5; certified coefficients 1 and 0.1^k.
        let x: Vec<f64> = (0..21).map(f64::from).collect();
        let ones = vec![1.0; 21];
        for step in [1.0f64, 0.1] {
            let y: Vec<f64> = x.iter().map(|v| (0..6).map(|k| (step * v).powi(k)).sum()).collect();
            let fit = least_squares(&powers(&x, 5), Sample::new(&y).unwrap(), Sample::new(&ones).unwrap()).unwrap();
            for (k, c) in fit.coefficients.iter().enumerate() {
                let certified = step.powi(k as i32);
                assert!((c / certified - 1.0).abs() < 1e-7, "{step} {k}: {c}");
            }
        }
    }

    #[test]
    fn a_line_has_its_textbook_standard_errors() {
        let (x, y) = ([1.0, 2.0, 3.0, 4.0], [1.0, 3.0, 2.0, 5.0]);
        let fit = least_squares(&powers(&x, 1), Sample::new(&y).unwrap(), Sample::new(&[1.0; 4]).unwrap()).unwrap();
        // Slope Sxy/Sxx = 5.5/5, residual sum 8.75 - 5.5^2/5, SE of the slope sqrt(RSS / 2 / Sxx).
        assert!((fit.coefficients[1] - 1.1).abs() < 1e-14 && (fit.residual_sum_of_squares - 2.7).abs() < 1e-13);
        let error = (2.7f64 / 2.0 / 5.0).sqrt();
        assert!((fit.standard_errors().unwrap()[1] - error).abs() < 1e-14);
        // Student's t, 2 degrees of freedom, 97.5 %: 4.3027 (any table).
        let slope = fit.estimate(1, 0.95).unwrap();
        assert!((slope.interval.high - slope.value - 4.302_653 * error).abs() < 1e-5 && slope.n == 4);
        assert!(fit.estimate(2, 0.95).is_err() && fit.estimate(0, 1.0).is_err());
    }

    #[test]
    fn a_weight_of_two_is_the_row_given_twice() {
        let fit = |x: &[f64], y: &[f64], w: &[f64]| {
            least_squares(&powers(x, 1), Sample::new(y).unwrap(), Sample::new(w).unwrap()).unwrap().coefficients
        };
        let weighted = fit(&[1.0, 2.0, 3.0], &[1.0, 5.0, 2.0], &[1.0, 2.0, 1.0]);
        let doubled = fit(&[1.0, 2.0, 2.0, 3.0], &[1.0, 5.0, 5.0, 2.0], &[1.0; 4]);
        assert!((weighted[0] - doubled[0]).abs() < 1e-12 && (weighted[1] - doubled[1]).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_fitted_is_an_error() {
        let y = Sample::new(&[1.0, 2.0, 3.0]).unwrap();
        let w = Sample::new(&[1.0, 1.0, 1.0]).unwrap();
        let twice = vec![vec![1.0, 2.0, 3.0], vec![2.0, 4.0, 6.0]];
        assert_eq!(least_squares(&twice, y, w), Err(StatsError::Singular));
        assert_eq!(least_squares(&[vec![0.0; 3]], y, w), Err(StatsError::Singular));
        assert_eq!(least_squares(&[], y, w), Err(StatsError::Empty));
        assert!(least_squares(&powers(&[1.0, 2.0, 3.0], 3), y, w).is_err());
        assert!(least_squares(&[vec![1.0; 3]], y, Sample::new(&[1.0, -1.0, 1.0]).unwrap()).is_err());
        assert!(least_squares(&[vec![f64::NAN; 3]], y, w).is_err());
    }

    proptest! {
        #[test]
        fn residuals_are_orthogonal_to_the_columns(y in prop::collection::vec(-1e3f64..1e3, 3..30)) {
            let x: Vec<f64> = (0..y.len()).map(|k| k as f64).collect();
            let ones = vec![1.0; y.len()];
            let fit = least_squares(&powers(&x, 1), Sample::new(&y).unwrap(), Sample::new(&ones).unwrap()).unwrap();
            let r: Vec<f64> = x.iter().zip(&y).map(|(x, y)| y - fit.coefficients[0] - fit.coefficients[1] * x).collect();
            prop_assert!(r.iter().sum::<f64>().abs() < 1e-6);
            prop_assert!(r.iter().zip(&x).map(|(r, x)| r * x).sum::<f64>().abs() < 1e-4);
        }
    }
}
