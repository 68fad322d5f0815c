//! The hinge of one kind: the mean of its place over the profile likelihood, which lies nearer to the truth than the
//! place of the maximum (in simulation by a fifth), with the interval that the profile likelihood gives.

use super::curve::{Curve, Grid, Growth, Line, Scatter, Spare, weights};
use super::{ComesApart, Estimate, Interval, PART_TOLD, normal_estimate};
use crate::growth::maximise;

/// How far twice the log likelihood may fall inside the interval. The 95 % point of chi-square, 3.84, is meant for
/// likelihoods that are smooth in the parameter; what this value holds is simulated (reports/ladder.md).
const INTERVAL_DROP: f64 = 3.84;
/// What twice the log likelihood of a change all at once must exceed a growing one's by: about a factor of 7.
const AT_ONCE: f64 = 4.0;
/// The largest growth of scatter sought.
const LARGEST_RATIO: f64 = 20.0;
/// Hinges looked at.
const FINE: usize = 240;

/// One course with everything else at its best.
struct At {
    ratio: f64,
    shift: Line,
    growth: f64,
    growth_part: f64,
}

struct Fitter<'a> {
    curve: &'a Curve,
    wd: Vec<f64>,
    scatter: Scatter,
}

impl Fitter<'_> {
    fn at(&self, course: &[f64]) -> At {
        let shift = Line::new(&self.wd, &self.curve.shift, course);
        let of = |log_ratio: f64| {
            let g: Vec<Growth> = course.iter().map(|f| Growth::new(*f, log_ratio.exp())).collect();
            self.scatter.ratio(&g)
        };
        let log_ratio = maximise(of, 0.0, LARGEST_RATIO.ln());
        let growth_part = of(log_ratio).max(0.0);
        At { ratio: shift.ratio + growth_part, shift, growth: log_ratio.exp(), growth_part }
    }
}

/// The hinge of a kind whose likelihood ratio was `ratio`, beyond chance with `p_adjusted`.
pub(super) fn hinge(grid: &Grid, kind: usize, curve: &Curve, spare: Spare, ratio: f64, p_adjusted: f64) -> ComesApart {
    let fitter =
        Fitter { curve, wd: weights(&curve.shift_variance, spare.shift), scatter: Scatter::new(curve, spare.log) };
    let (low, high) = grid.range();
    let at = |k: usize| low + (high - low) * k as f64 / FINE as f64;
    let steps: Vec<At> = (0..grid.levels() - 1).map(|k| fitter.at(&grid.step(k))).collect();
    let step_at = |tempo: f64| grid.tempos.partition_point(|t| *t <= tempo).saturating_sub(1).min(steps.len() - 1);
    let ramps: Vec<At> = (0..=FINE).map(|k| fitter.at(&grid.ramp(at(k)))).collect();
    let profile: Vec<f64> = (0..=FINE).map(|k| ramps[k].ratio.max(steps[step_at(at(k))].ratio - AT_ONCE)).collect();
    let top = profile.iter().copied().fold(f64::MIN, f64::max);
    let weights: Vec<f64> = profile.iter().map(|p| (0.5 * (p - top)).exp()).collect();
    let value = weights.iter().enumerate().map(|(k, w)| w * at(k)).sum::<f64>() / weights.iter().sum::<f64>();
    let inside: Vec<usize> = (0..=FINE).filter(|&k| top - profile[k] <= INTERVAL_DROP).collect();
    let interval = Interval {
        low: inside.first().map_or(value, |k| at(*k)).min(value),
        high: inside.last().map_or(value, |k| at(*k)).max(value),
    };
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
        bracketed: interval.low > low && interval.high < second,
        at_once,
        likelihood_ratio: ratio,
        p_adjusted,
        shift_at_top: normal_estimate(chosen.shift.slope, variance, curve.notes),
        ratio_at_top: chosen.growth,
        base_shift: chosen.shift.level,
        parts: [chosen.shift.ratio >= PART_TOLD, chosen.growth_part >= PART_TOLD],
        rivals: Vec::new(),
    }
}
