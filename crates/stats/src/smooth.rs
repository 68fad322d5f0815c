//! A local straight line through the neighbours of each point, fitted so that slips have little weight (Cleveland
//! 1979, J. Am. Stat. Assoc. 74:829): the slow drift of a take, taken off before scatter is measured.

use crate::error::{Result, StatsError};
use crate::robust::{mad_sd, median};
use crate::sample::{Sample, same_length};

/// Reweighting rounds; after four the weights of slips no longer change.
const ROUNDS: usize = 4;

/// The smoothed value at each of `x`. `x` must not fall; `half_width`, in the unit of `x`, is how far a neighbour may
/// lie away: for the drift of a take at least one whole repeat of the line, so that each fit spans two and the line's
/// own profile does not pass for drift. Where fewer than `least` (at least 3) neighbours lie that near the window grows
/// to hold them.
///
/// # Errors
/// [`StatsError::LengthMismatch`]; [`StatsError::OutOfRange`] if `x` falls anywhere, `half_width` is not above 0 or
/// `least` is below 3; [`StatsError::TooFew`] for fewer than `least` values.
pub fn local_linear(x: Sample, y: Sample, half_width: f64, least: usize) -> Result<Vec<f64>> {
    same_length(x.len(), y.len())?;
    if !(half_width > 0.0 && half_width.is_finite()) {
        return Err(StatsError::OutOfRange { what: "half width", allowed: "above 0" });
    }
    if least < 3 {
        return Err(StatsError::OutOfRange { what: "number of neighbours", allowed: "at least 3" });
    }
    y.need(least)?;
    if x.values().windows(2).any(|w| w[1] < w[0]) {
        return Err(StatsError::OutOfRange { what: "list of positions", allowed: "not falling" });
    }
    let (x, y) = (x.values(), y.values());
    let mut robustness = vec![1.0; y.len()];
    let mut smoothed = vec![0.0; y.len()];
    for round in 0..=ROUNDS {
        let mut window = 0..0;
        for (k, s) in smoothed.iter_mut().enumerate() {
            window = neighbours(x, k, half_width, least, window);
            *s = fit_at(x, y, &robustness, k, window.clone(), half_width);
        }
        if round == ROUNDS {
            break;
        }
        let residuals: Vec<f64> = y.iter().zip(&smoothed).map(|(y, s)| y - s).collect();
        let scale = mad_sd(Sample::new(&residuals)?);
        if scale <= 0.0 {
            break;
        }
        let middle = median(Sample::new(&residuals)?);
        for (w, r) in robustness.iter_mut().zip(&residuals) {
            // Tukey's biweight; the 6 plain MADs of Cleveland are 4.05 scaled ones.
            let u = (r - middle) / (4.05 * scale);
            *w = if u.abs() < 1.0 { (1.0 - u * u).powi(2) } else { 0.0 };
        }
    }
    Ok(smoothed)
}

/// The window of point k, never starting before that of the point before it.
fn neighbours(
    x: &[f64],
    k: usize,
    half_width: f64,
    least: usize,
    before: std::ops::Range<usize>,
) -> std::ops::Range<usize> {
    let mut start = before.start;
    while x[start] < x[k] - half_width && start < k {
        start += 1;
    }
    let mut end = before.end.max(k + 1);
    while end < x.len() && x[end] <= x[k] + half_width {
        end += 1;
    }
    while end - start < least {
        let (left, right) = (start > 0, end < x.len());
        if left && (!right || x[k] - x[start - 1] <= x[end] - x[k]) { start -= 1 } else { end += 1 }
    }
    start..end
}

/// Weighted straight line through the window, at x[k]; a level where the positions do not differ.
fn fit_at(x: &[f64], y: &[f64], robustness: &[f64], k: usize, window: std::ops::Range<usize>, half_width: f64) -> f64 {
    let reach = window.clone().map(|i| (x[i] - x[k]).abs()).fold(half_width, f64::max) * 1.001;
    let sums = |robust: bool| {
        let mut s = [0.0; 5];
        for i in window.clone() {
            let d = (x[i] - x[k]) / reach;
            let near = (1.0 - d.abs().powi(3)).powi(3);
            let w = near * if robust { robustness[i] } else { 1.0 };
            for (total, term) in s.iter_mut().zip([w, w * d, w * d * d, w * y[i], w * d * y[i]]) {
                *total += term;
            }
        }
        s
    };
    let robust = sums(true);
    // All neighbours slipped: then none of them can be told from a slip, and all count.
    let [w, wd, wdd, wy, wdy] = if robust[0] > 1e-6 { robust } else { sums(false) };
    let spread = w * wdd - wd * wd;
    if spread > 1e-9 * w * w { (wdd * wy - wd * wdy) / spread } else { wy / w }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn positions(n: usize) -> Vec<f64> {
        (0..n).map(|k| k as f64).collect()
    }

    #[test]
    fn a_straight_line_comes_back_exactly_and_a_slip_does_not_bend_it() {
        let x = positions(60);
        let line: Vec<f64> = x.iter().map(|x| 3.0 + 0.5 * x).collect();
        let s = local_linear(Sample::new(&x).unwrap(), Sample::new(&line).unwrap(), 10.0, 5).unwrap();
        assert!(s.iter().zip(&line).all(|(a, b)| (a - b).abs() < 1e-9));
        let mut rng = crate::Seeded::new(1);
        let mut slipped: Vec<f64> = line.iter().map(|v| v + 0.1 * rng.normal()).collect();
        slipped[30] += 200.0;
        let s = local_linear(Sample::new(&x).unwrap(), Sample::new(&slipped).unwrap(), 10.0, 5).unwrap();
        assert!(s.iter().zip(&line).all(|(a, b)| (a - b).abs() < 0.2));
    }

    #[test]
    fn a_slow_wave_is_followed() {
        let x = positions(200);
        let wave: Vec<f64> = x.iter().map(|x| 5.0 * (x / 40.0).sin()).collect();
        let s = local_linear(Sample::new(&x).unwrap(), Sample::new(&wave).unwrap(), 12.0, 5).unwrap();
        assert!(s.iter().zip(&wave).all(|(a, b)| (a - b).abs() < 0.3));
    }

    #[test]
    fn mistakes_are_errors() {
        let (x, y) = (Sample::new(&[1.0, 2.0, 3.0]).unwrap(), Sample::new(&[1.0, 2.0, 3.0]).unwrap());
        assert!(local_linear(x, y, 0.0, 3).is_err() && local_linear(x, y, 1.0, 2).is_err());
        assert!(local_linear(x, y, 1.0, 4).is_err());
        assert!(local_linear(Sample::new(&[3.0, 2.0, 1.0]).unwrap(), y, 1.0, 3).is_err());
    }

    proptest! {
        #[test]
        fn every_value_is_a_number(y in prop::collection::vec(-1e6f64..1e6, 3..40), step in 0.0..2.0f64, width in 0.01..50.0f64) {
            let x: Vec<f64> = (0..y.len()).map(|k| (k as f64 * step).floor()).collect();
            let s = local_linear(Sample::new(&x).unwrap(), Sample::new(&y).unwrap(), width, 3).unwrap();
            prop_assert!(s.iter().all(|v| v.is_finite()));
        }
    }
}
