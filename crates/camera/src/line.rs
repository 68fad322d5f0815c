//! A line through what the windows say: found where most likeness lies along it (a Hough transform; Duda & Hart 1972,
//! Commun. ACM 15:11), then fitted by least squares to the windows whose own best place lies on it.

use crate::windows::{REACH, Seen};
use takegauge_stats::linear::{LinearFit, least_squares};
use takegauge_stats::{Estimate, Sample};

/// A window agrees with a line that passes its best place within so many samples: 0.5 ms.
const AGREES: f64 = 4.0;
/// What all windows may have in common, samples: the parabola between lags and the low-passes before it (12 us).
const RESOLUTION: f64 = 0.1;
/// Clocks further apart are none: quartz is within 100 ppm.
const MOST_DRIFT: f64 = 400e-6;

/// Film sample minus take sample, over the take: `at + slope * (sample - from)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Take sample that `at` belongs to.
    pub from: f64,
    /// Film sample minus take sample there.
    pub at: f64,
    /// Its change a sample.
    pub slope: f64,
}

impl Line {
    /// Film sample minus take sample at a sample of the take.
    pub fn value(&self, sample: f64) -> f64 {
        self.at + self.slope * (sample - self.from)
    }
}

/// The line along which the windows are most alike, its slope at most `spread` samples over half their span; `None`
/// without windows.
pub fn best_line(seen: &[Seen], spread: f64) -> Option<(Line, f64)> {
    let (first, last) = (seen.first()?.middle, seen.last()?.middle);
    let from = (first + last) as f64 / 2.0;
    let half = ((last - first) as f64 / 2.0).max(1.0);
    let turns = spread.min(MOST_DRIFT * half).ceil() as i64;
    // A place counts as its best neighbour, so that whole lags lose nothing between two.
    let wide: Vec<Vec<f32>> = seen.iter().map(|s| widened(&s.likeness)).collect();
    let base = seen.first().map_or(0, |s| s.place - s.middle);
    let mut best: Option<(f64, i64, i64)> = None;
    let mut sums = vec![0.0f32; 2 * REACH + 1];
    for turn in -turns..=turns {
        sums.fill(0.0);
        for (s, likeness) in seen.iter().zip(&wide) {
            let lean = turn as f64 * (s.middle as f64 - from) / half;
            let shift = lean.round() as i64 + base - (s.place - s.middle);
            let (skip, start) = (usize::try_from(-shift).unwrap_or(0), usize::try_from(shift).unwrap_or(0));
            let there = likeness.get(start..).unwrap_or(&[]);
            sums.iter_mut().skip(skip).zip(there).for_each(|(sum, v)| *sum += v);
        }
        for (k, sum) in sums.iter().enumerate() {
            if best.is_none_or(|b| f64::from(*sum) > b.0) {
                best = Some((f64::from(*sum), k as i64, turn));
            }
        }
    }
    let (sum, k, turn) = best?;
    let at = (base + k - REACH as i64) as f64;
    Some((Line { from, at, slope: turn as f64 / half }, sum / seen.len() as f64))
}

fn widened(x: &[f32]) -> Vec<f32> {
    (0..x.len()).map(|i| x[i.saturating_sub(1)..(i + 2).min(x.len())].iter().copied().fold(0.0, f32::max)).collect()
}

/// A line fitted to the windows that agree with it.
#[derive(Debug, Clone)]
pub struct Fitted {
    /// The line, from the take's sample 0 on.
    pub line: Line,
    /// Places in the list of windows that agree.
    pub agree: Vec<usize>,
    fit: Option<LinearFit>,
}

impl Fitted {
    /// From a first guess.
    pub fn near(seen: &[Seen], guess: Line) -> Self {
        let peaks: Vec<(f64, f64)> = seen.iter().filter_map(peak).collect();
        let mut fitted = Self { line: guess, agree: Vec::new(), fit: None };
        for _ in 0..4 {
            let agree: Vec<usize> =
                (0..peaks.len()).filter(|&i| (peaks[i].1 - fitted.line.value(peaks[i].0)).abs() <= AGREES).collect();
            let x: Vec<f64> = agree.iter().map(|&i| peaks[i].0).collect();
            let y: Vec<f64> = agree.iter().map(|&i| peaks[i].1).collect();
            let ones = vec![1.0; x.len()];
            let fit = Sample::new(&y).and_then(|y| least_squares(&[ones.clone(), x], y, Sample::new(&ones)?));
            let Ok(fit) = fit else {
                fitted.agree = agree;
                return fitted;
            };
            let same = agree == fitted.agree;
            let line = Line { from: 0.0, at: fit.coefficients[0], slope: fit.coefficients[1] };
            fitted = Self { line, agree, fit: Some(fit) };
            if same {
                break;
            }
        }
        fitted
    }

    /// Offset at the take's sample 0 (samples) and slope, with 95 % intervals from the scatter of the windows about the
    /// line and, for the offset, `RESOLUTION`; `None` with fewer than three.
    pub fn estimates(&self) -> Option<(Estimate, Estimate)> {
        let fit = self.fit.as_ref()?;
        let (mut offset, slope) = (fit.estimate(0, 0.95).ok()?, fit.estimate(1, 0.95).ok()?);
        offset.interval.low -= RESOLUTION;
        offset.interval.high += RESOLUTION;
        Some((offset, slope))
    }

    /// Standard deviation of the windows about the line, samples.
    pub fn scatter(&self) -> f64 {
        let Some(fit) = self.fit.as_ref().filter(|f| f.degrees_of_freedom > 0) else { return 0.0 };
        (fit.residual_sum_of_squares / fit.degrees_of_freedom as f64).sqrt()
    }
}

/// A window's own best place: take sample and film sample minus take sample, between the lags by a parabola.
fn peak(seen: &Seen) -> Option<(f64, f64)> {
    let x = &seen.likeness;
    let k = (0..x.len()).max_by(|a, b| x[*a].total_cmp(&x[*b]))?;
    let (a, b, c) = (*x.get(k.wrapping_sub(1))?, x[k], *x.get(k + 1)?);
    let bend = a - 2.0 * b + c;
    let between = if bend < 0.0 { f64::from((0.5 * (a - c) / bend).clamp(-0.5, 0.5)) } else { 0.0 };
    Some((seen.middle as f64, (seen.place - seen.middle) as f64 + k as f64 - REACH as f64 + between))
}
