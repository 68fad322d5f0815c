//! Linear prediction: what already sounds is foretold from its own past; what a new note brings is not.
//!
//! The modified covariance (forward and backward) method (Marple 1980, IEEE Trans. ASSP 28(4):441-454), which sharp
//! partials in a short stretch need, its normal equations solved by Cholesky's decomposition.

use crate::dot::dot;
use crate::tuning::sound::LOADING;

/// Coefficients c such that x[n] is foretold by sum c[k] x[n - 1 - k]; `None` where `past` is too short or silent.
pub(crate) fn fit(past: &[f64], order: usize) -> Option<Vec<f64>> {
    if order == 0 || past.len() < 2 * order + 1 {
        return None;
    }
    let c = covariances(past, order);
    let at = |i: usize, j: usize| c[i * (order + 1) + j];
    let mut matrix = vec![0.0; order * order];
    let mut right = vec![0.0; order];
    for i in 1..=order {
        right[i - 1] = at(0, i) + at(order, order - i);
        for j in 1..=order {
            matrix[(i - 1) * order + j - 1] = at(i, j) + at(order - i, order - j);
        }
    }
    let trace: f64 = (0..order).map(|i| matrix[i * order + i]).sum();
    if trace.is_nan() || trace <= 0.0 {
        return None;
    }
    (0..order).for_each(|i| matrix[i * order + i] += LOADING * trace / order as f64);
    solve(&mut matrix, right)
}

/// c(i, j) = sum over n from `order` of x[n - i] x[n - j], for i, j from 0 to `order`. Each diagonal follows from its
/// first entry: a step along it drops one product at the end and takes in one at the start.
fn covariances(x: &[f64], order: usize) -> Vec<f64> {
    let n = order + 1;
    let mut c = vec![0.0; n * n];
    for j in 0..n {
        c[j] = dot(&x[order..], &x[order - j..]);
        c[j * n] = c[j];
    }
    for i in 1..n {
        for j in i..n {
            let last = x.len() - 1;
            let step = x[order - i] * x[order - j] - x[last + 1 - i] * x[last + 1 - j];
            c[i * n + j] = c[(i - 1) * n + j - 1] + step;
            c[j * n + i] = c[i * n + j];
        }
    }
    c
}

/// Cholesky's decomposition in place, then forward and backward substitution; `None` if not positive definite.
fn solve(m: &mut [f64], mut right: Vec<f64>) -> Option<Vec<f64>> {
    let n = right.len();
    for i in 0..n {
        for j in 0..=i {
            let rest = m[i * n + j] - dot(&m[i * n..i * n + j], &m[j * n..j * n + j]);
            m[i * n + j] = if i == j {
                if rest.is_nan() || rest <= 0.0 {
                    return None;
                }
                rest.sqrt()
            } else {
                rest / m[j * n + j]
            };
        }
    }
    for i in 0..n {
        right[i] = (right[i] - dot(&m[i * n..i * n + i], &right[..i])) / m[i * n + i];
    }
    for i in (0..n).rev() {
        let later: f64 = (i + 1..n).map(|k| m[k * n + i] * right[k]).sum();
        right[i] = (right[i] - later) / m[i * n + i];
    }
    right.iter().all(|x| x.is_finite()).then_some(right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Size of the prediction error at every sample from `coefficients.len()` on.
    fn errors(x: &[f64], coefficients: &[f64]) -> Vec<f64> {
        let order = coefficients.len();
        let predicted = |w: &[f64]| coefficients.iter().zip(w[..order].iter().rev()).map(|(c, x)| c * x).sum::<f64>();
        x.windows(order + 1).map(|w| (w[order] - predicted(w)).abs()).collect()
    }

    #[test]
    fn tones_are_foretold_and_a_step_is_not() {
        let sound = |i: usize| (TAU * 0.031 * i as f64).sin() + 0.5 * (TAU * 0.083 * i as f64 + 1.0).sin();
        let mut x: Vec<f64> = (0..400).map(sound).collect();
        x[300] += 0.2;
        let c = fit(&x[..250], 8).unwrap();
        let e = errors(&x, &c);
        let highest = |from: usize, to: usize| e[from - 8..to - 8].iter().fold(0.0f64, |m, x| m.max(*x));
        assert!(highest(8, 300) < 0.01, "{}", highest(8, 300));
        assert!((e[300 - 8] - 0.2).abs() < 0.02);
    }

    /// The recursion along the diagonals against the plain sums.
    #[test]
    fn covariances_are_the_sums_that_they_stand_for() {
        let x: Vec<f64> = (0..40).map(|i| f64::from((i * 37 + 11) % 23) - 11.0).collect();
        let order = 6;
        let c = covariances(&x, order);
        for i in 0..=order {
            for j in 0..=order {
                let sum: f64 = (order..x.len()).map(|t| x[t - i] * x[t - j]).sum();
                assert!((c[i * (order + 1) + j] - sum).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn nothing_is_made_of_nothing() {
        assert_eq!(fit(&[0.0; 100], 8), None);
        assert_eq!(fit(&[1.0; 10], 8), None);
        assert_eq!(fit(&[f64::NAN; 100], 8), None);
    }
}
