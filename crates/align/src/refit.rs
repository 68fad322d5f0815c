//! The straight grid of a pass: offset and tempo, fitted so that slips do not pull it.

use crate::click::Click;
use crate::model::{Alignment, Pass, Status, Timebase};
use crate::tuning::refine::{HUBER, HUBER_ROUNDS, SD_A_MAD};
use takegauge_drill::{Drill, GridNote};
use takegauge_stats::robust::upper_median;
use takegauge_units::{Bpm, Seconds};

/// Residuals smaller than this (seconds) are rounding.
const EXACT: f64 = 1e-9;

/// One note heard: drill time, time in the take, and which hesitation-free piece of the pass it lies in.
#[derive(Debug, Clone, Copy)]
struct Point {
    x: f64,
    t: f64,
    piece: usize,
}

/// Parallel straight lines, one a piece: `offsets[piece] + slope * x`.
#[derive(Debug, Clone, PartialEq)]
struct Lines {
    slope: f64,
    offsets: Vec<Option<f64>>,
}

impl Lines {
    /// Huber's M-estimate by reweighted least squares; `slope` where the points cannot tell it.
    fn fit(points: &[Point], pieces: usize, slope: f64) -> Option<Self> {
        let mut weights = vec![1.0; points.len()];
        let mut lines = Self::weighted(points, &weights, pieces, slope)?;
        for _ in 0..HUBER_ROUNDS {
            let residuals: Vec<f64> = points.iter().map(|p| (p.t - lines.at(p.piece, p.x)).abs()).collect();
            let scale = SD_A_MAD * upper_median(residuals.iter().copied())?;
            if scale <= EXACT {
                break;
            }
            for (w, r) in weights.iter_mut().zip(&residuals) {
                *w = if *r <= HUBER * scale { 1.0 } else { HUBER * scale / r };
            }
            let again = Self::weighted(points, &weights, pieces, slope)?;
            let moved = (again.slope - lines.slope).abs();
            lines = again;
            if moved < 1e-12 {
                break;
            }
        }
        Some(lines)
    }

    fn weighted(points: &[Point], weights: &[f64], pieces: usize, slope: f64) -> Option<Self> {
        if points.is_empty() {
            return None;
        }
        // Sums of weight, x and t a piece; the slope comes from what is left within the pieces.
        let mut sums = vec![(0.0, 0.0, 0.0); pieces];
        for (p, w) in points.iter().zip(weights) {
            let s = &mut sums[p.piece];
            *s = (s.0 + w, s.1 + w * p.x, s.2 + w * p.t);
        }
        let means: Vec<Option<(f64, f64)>> = sums.iter().map(|s| (s.0 > 0.0).then(|| (s.1 / s.0, s.2 / s.0))).collect();
        let (mut sxx, mut sxt) = (0.0, 0.0);
        for (p, w) in points.iter().zip(weights) {
            let Some((mx, mt)) = means[p.piece] else { continue };
            sxx += w * (p.x - mx).powi(2);
            sxt += w * (p.x - mx) * (p.t - mt);
        }
        let fitted = if sxx > 1e-12 { sxt / sxx } else { slope };
        // Time runs forward: a fit that says otherwise comes from a point or two.
        let slope = if fitted > 0.0 && fitted.is_finite() { fitted } else { slope };
        Some(Self { slope, offsets: means.iter().map(|m| m.map(|(mx, mt)| mt - slope * mx)).collect() })
    }

    /// A piece without a point goes on from the nearest one before it, else after it.
    fn offset(&self, piece: usize) -> f64 {
        let before = self.offsets[..=piece].iter().rev().find_map(|o| *o);
        before.or_else(|| self.offsets[piece..].iter().find_map(|o| *o)).unwrap_or(0.0)
    }

    fn at(&self, piece: usize, x: f64) -> f64 {
        self.offset(piece) + self.slope * x
    }
}

/// Fits every pass's grid again after times or statuses were refined: offset and tempo from its played picked notes,
/// and with them every note's `expected`. In click mode the click stays the grid, and only the tempo is fitted.
///
/// `grid`, `drill` and `timebase` are those the alignment was made with.
pub fn refit(alignment: &mut Alignment, grid: &[GridNote], drill: &Drill, timebase: &Timebase) {
    let click = match timebase {
        Timebase::Steady => None,
        Timebase::Click(beats) => Click::new(beats, drill).ok(),
    };
    for pass in &mut alignment.passes {
        refit_pass(pass, grid, drill, click.as_ref());
    }
}

/// See [`refit`]; one pass. `pass.tempo` is where the fit starts from.
pub(crate) fn refit_pass(pass: &mut Pass, grid: &[GridNote], drill: &Drill, click: Option<&Click>) {
    let played = || pass.notes.iter().filter_map(|n| n.played).map(|t| t.0);
    let (from, to) = played().fold((f64::INFINITY, f64::NEG_INFINITY), |s, t| (s.0.min(t), s.1.max(t)));
    if from <= to {
        (pass.from, pass.to) = (Seconds(from), Seconds(to));
    }
    let piece_of = |index: usize| pass.anew.partition_point(|a| *a <= index);
    let points: Vec<Point> = pass
        .notes
        .iter()
        .filter(|n| n.status == Status::Played)
        .filter_map(|n| {
            let g = grid.get(n.index).filter(|g| g.picked())?;
            Some(Point { x: g.expected.0, t: n.played?.0, piece: piece_of(n.index) })
        })
        .collect();
    let Some(lines) = Lines::fit(&points, pass.anew.len() + 1, drill.tempo.0 / pass.tempo.0) else { return };
    pass.tempo = Bpm(drill.tempo.0 / lines.slope);
    pass.offset = Seconds(lines.at(0, 0.0));
    let of_click = click.zip(pass.click_beat);
    if let Some((click, beat)) = of_click {
        pass.offset = click.take_time(beat, Seconds(0.0));
    }
    for n in &mut pass.notes {
        let Some(g) = grid.get(n.index) else { continue };
        n.expected = match of_click {
            Some((click, beat)) => click.take_time(beat, g.expected),
            None => Seconds(lines.at(pass.anew.partition_point(|a| *a <= n.index), g.expected.0)),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(slip: f64) -> Vec<Point> {
        let late = |i: usize| if i % 10 == 4 { slip } else { 0.002 * (i % 3) as f64 - 0.002 };
        let piece = |i: usize| usize::from(i >= 25);
        (0..50)
            .map(|i| Point {
                x: i as f64 * 0.1,
                t: 1.0 + 0.08 * i as f64 + 0.3 * piece(i) as f64 + late(i),
                piece: piece(i),
            })
            .collect()
    }

    #[test]
    fn a_tenth_of_slips_hardly_moves_the_line() {
        let fair = Lines::fit(&points(0.0), 2, 1.0).unwrap();
        let slipped = Lines::fit(&points(0.2), 2, 1.0).unwrap();
        assert!((fair.slope - 0.8).abs() < 1e-3 && (slipped.slope / fair.slope - 1.0).abs() < 2e-3);
        assert!((slipped.offset(0) - fair.offset(0)).abs() < 2e-3);
        assert!((slipped.offset(1) - slipped.offset(0) - 0.3).abs() < 5e-3, "a hesitation keeps the tempo");
    }

    #[test]
    fn too_few_points_keep_the_tempo_given() {
        assert_eq!(Lines::fit(&[], 1, 0.7), None);
        let one = Lines::fit(&[Point { x: 2.0, t: 5.0, piece: 1 }], 3, 0.7).unwrap();
        assert_eq!(one.slope, 0.7);
        assert!((0..3).all(|piece| (one.at(piece, 2.0) - 5.0).abs() < 1e-12));
    }
}
