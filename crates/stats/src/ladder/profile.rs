//! The hinge of one kind: the median of its place over the profile likelihood, all places alike before anything is known,
//! with the interval that leaves out as much at either end. Against the place of the maximum and the drop of the likelihood to
//! either side: as near to the truth, and the interval holds it as often as it says where the course is another.

use super::curve::{Curve, Grid, Growth, Line, Spare, TakeScatters, weights};
use super::model::{ComesApart, PART_TOLD, normal_estimate};
use crate::growth::maximise;
use crate::sample::{Estimate, Interval};

/// Share of the likelihood left out at either end of the interval: with 3.5 per cent it held the tempo in 98 to 99 of 100
/// simulated ladders, since the hinge is no parameter that the likelihood is smooth in.
const TAIL: f64 = 0.05;
/// An end of the tempos is out of the question where twice the log likelihood has fallen by the 95 % point of chi-square.
const SETTLED: f64 = 3.84;
/// What twice the log likelihood of scatter that grows by an added error must exceed a straight line's by: a factor of e.
/// With it the interval holds whichever of the two is true (reports/ladder.md).
const ADDED: f64 = 2.0;
/// What twice the log likelihood of a change all at once must exceed a growing one's by: a factor of e.
const AT_ONCE: f64 = 2.0;
/// The largest growth of scatter sought.
const LARGEST_RATIO: f64 = 20.0;
/// Hinges looked at.
const FINE: usize = 240;

/// One course with everything else at its best.
struct At {
    ratio: f64,
    shift: Line,
    shift_part: f64,
    growth: f64,
    growth_part: f64,
}

struct Fitter<'a> {
    curve: &'a Curve,
    wd: Vec<f64>,
    scatter: TakeScatters,
}

impl Fitter<'_> {
    fn at(&self, course: &[f64]) -> At {
        let shift = Line::new(&self.wd, &self.curve.shift, course);
        let grown = |form: fn(f64, f64) -> Growth| {
            let of = |log_ratio: f64| {
                let g: Vec<Growth> = course.iter().map(|f| form(*f, log_ratio.exp())).collect();
                self.scatter.ratio(&g)
            };
            let log_ratio = maximise(of, 0.0, LARGEST_RATIO.ln());
            (of(log_ratio).max(0.0), log_ratio.exp())
        };
        let (straight, added) = (grown(Growth::new), grown(Growth::added));
        let (growth_part, growth) = if added.0 - ADDED > straight.0 { (added.0 - ADDED, added.1) } else { straight };
        let shift_part = self.curve.shift_ratio(shift.square);
        At { ratio: shift_part + growth_part, shift, shift_part, growth, growth_part }
    }
}

/// The hinge of a kind whose likelihood ratio was `ratio`, beyond chance with `p_adjusted`.
pub(super) fn hinge(grid: &Grid, kind: usize, curve: &Curve, spare: Spare, ratio: f64, p_adjusted: f64) -> ComesApart {
    let fitter =
        Fitter { curve, wd: weights(&curve.shift_variance, spare.shift), scatter: TakeScatters::new(curve, spare.log) };
    let (low, high) = grid.range();
    let at = |k: usize| low + (high - low) * k as f64 / FINE as f64;
    let steps: Vec<At> = (0..grid.levels() - 1).map(|k| fitter.at(&grid.step(k))).collect();
    let step_at = |tempo: f64| grid.tempos.partition_point(|t| *t <= tempo).saturating_sub(1).min(steps.len() - 1);
    let ramps: Vec<At> = (0..=FINE).map(|k| fitter.at(&grid.ramp(at(k)))).collect();
    let profile: Vec<f64> = (0..=FINE).map(|k| ramps[k].ratio.max(steps[step_at(at(k))].ratio - AT_ONCE)).collect();
    let top = profile.iter().copied().fold(f64::MIN, f64::max);
    let weights: Vec<f64> = profile.iter().map(|p| (0.5 * (p - top)).exp()).collect();
    let total: f64 = weights.iter().sum();
    let quantile = |share: f64| {
        let mut sum = 0.0;
        let reached = weights.iter().position(|w| {
            sum += w;
            sum >= share * total
        });
        at(reached.unwrap_or(FINE))
    };
    let (value, interval) = (quantile(0.5), Interval { low: quantile(TAIL), high: quantile(1.0 - TAIL) });
    let settled = |k: usize| top - profile[k] > SETTLED;
    let best = (0..=FINE).max_by(|a, b| profile[*a].total_cmp(&profile[*b])).unwrap_or(0);
    let (ramp, step) = (&ramps[best], &steps[step_at(at(best))]);
    let at_once = step.ratio - AT_ONCE > ramp.ratio;
    let chosen = if at_once { step } else { ramp };
    let information = chosen.shift.information;
    let variance = if information > 0.0 { 1.0 / information } else { 0.0 };
    let second = grid.tempos[grid.levels() - 2];
    ComesApart {
        kind,
        tempo: Estimate { value, interval, n: curve.notes },
        bracketed: settled(0) && settled(FINE) && interval.high < second,
        at_once,
        likelihood_ratio: ratio,
        p_adjusted,
        shift_at_top: normal_estimate(chosen.shift.slope, variance, curve.notes),
        ratio_at_top: chosen.growth,
        base_shift: chosen.shift.level,
        parts: [chosen.shift_part >= PART_TOLD, chosen.growth_part >= PART_TOLD],
        rivals: Vec::new(),
    }
}
