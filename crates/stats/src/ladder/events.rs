//! The same question of things that happen or do not, and of sizes without a reference: from which tempo on a kind of
//! note goes wrong more often than the others do, or rings over longer than it did.

use super::curve::{Curve, Fit, Grid, Spare, fit_with};
use super::model::{ComesApart, LEAST_NOTES, LEAST_TEMPOS, Settings, check_settings};
use super::profile;
use crate::error::{Result, StatsError};
use crate::random::Seeded;
use crate::sample::same_length;

/// Fewer events of a kind show no course.
pub const LEAST_EVENTS: usize = 5;
/// SD between takes of the log of a size, 10 per cent, and of a rate's angle: chosen by us.
const BETWEEN_LOGS: f64 = 0.1;
const BETWEEN_ANGLES: f64 = 0.02;

/// What happened to a kind in one take, and to the notes it is held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Events among the kind's notes; at most `notes`.
    pub events: usize,
    /// Notes of the kind.
    pub notes: usize,
    /// Events among the others.
    pub other_events: usize,
    /// The others.
    pub other_notes: usize,
}

/// Angle of a rate, whose variance depends on the number of notes alone, and that variance (Freeman and Tukey 1950, Ann.
/// Math. Statist. 21:607).
fn angle(events: usize, notes: usize) -> (f64, f64) {
    let (k, n) = (events.min(notes) as f64, notes as f64);
    let half = (k / (n + 1.0)).sqrt().asin() + ((k + 1.0) / (n + 1.0)).sqrt().asin();
    (0.5 * half, 1.0 / (4.0 * n + 2.0))
}

fn rate_curve(counts: &[Counts]) -> Curve {
    let notes = counts.iter().map(|c| c.notes).sum();
    let mut curve = Curve::empty(counts.len(), notes, 0.0);
    for (take, c) in counts.iter().enumerate().filter(|(_, c)| c.notes > 0 && c.other_notes > 0) {
        let ((own, v), (other, w)) = (angle(c.events, c.notes), angle(c.other_events, c.other_notes));
        curve.shift[take] = own - other;
        curve.shift_variance[take] = v + w;
    }
    curve
}

/// Kinds whose rate of events grows from some tempo on, beyond that of their other notes: one answer a kind, `None`
/// where nothing shows. `kinds[k][t]` are the counts of kind k in take t; `shift_at_top` of an answer is an angle.
///
/// # Errors
/// [`StatsError::LengthMismatch`]; [`StatsError::OutOfRange`]; [`StatsError::NotFinite`].
pub fn rate_hinges(tempos: &[f64], kinds: &[Vec<Counts>], settings: Settings) -> Result<Vec<Option<ComesApart>>> {
    check_settings(tempos, settings)?;
    kinds.iter().try_for_each(|k| same_length(tempos.len(), k.len()))?;
    let grid = Grid::new(tempos);
    let usable = |counts: &&Vec<Counts>| {
        let events: usize = counts.iter().map(|c| c.events).sum();
        events >= LEAST_EVENTS && grid.levels_with(|t| counts[t].notes > 0 && counts[t].other_notes > 0) >= LEAST_TEMPOS
    };
    let open: Vec<usize> = (0..kinds.len()).filter(|k| usable(&&kinds[*k])).collect();
    let curves: Vec<Curve> = open.iter().map(|k| rate_curve(&kinds[*k])).collect();
    let rates: Vec<Vec<[f64; 2]>> = open.iter().map(|k| level_rates(&kinds[*k])).collect();
    let spare = Spare { shift: BETWEEN_ANGLES * BETWEEN_ANGLES, log: 1.0 };
    let draw = |k: usize, rng: &mut Seeded| -> Curve {
        let drawn = |n: usize, p: f64, rng: &mut Seeded| (0..n).filter(|_| rng.unit() < p).count();
        let counts: Vec<Counts> = kinds[open[k]]
            .iter()
            .zip(&rates[k])
            .map(|(c, [own, other])| Counts {
                events: drawn(c.notes, *own, rng),
                other_events: drawn(c.other_notes, *other, rng),
                ..*c
            })
            .collect();
        rate_curve(&counts)
    };
    let found = hinges_beyond_chance(&grid, &curves, spare, settings, draw);
    Ok(spread_out(kinds.len(), &open, found))
}

/// Rates of the kind and of the others, take by take, if the one stays so many times the other.
fn level_rates(counts: &[Counts]) -> Vec<[f64; 2]> {
    let pooled = |c: &Counts| (c.events + c.other_events) as f64 / (c.notes + c.other_notes).max(1) as f64;
    let times = |of: fn(&Counts) -> [usize; 2]| {
        let events: usize = counts.iter().map(|c| of(c)[0]).sum();
        let expected: f64 = counts.iter().map(|c| of(c)[1] as f64 * pooled(c)).sum();
        if expected > 0.0 { events as f64 / expected } else { 1.0 }
    };
    let (own, other) = (times(|c| [c.events, c.notes]), times(|c| [c.other_events, c.other_notes]));
    counts.iter().map(|c| [own, other].map(|t| (t * pooled(c)).clamp(0.0, 0.95))).collect()
}

/// Kinds whose values (all above 0) grow from some tempo on, in proportion: one answer a kind, `None` where nothing
/// shows. `kinds[k][t]` are the values of kind k in take t; `shift_at_top` of an answer is a log ratio.
///
/// # Errors
/// [`StatsError::LengthMismatch`]; [`StatsError::OutOfRange`] also for values not above 0; [`StatsError::NotFinite`].
pub fn level_hinges(tempos: &[f64], kinds: &[Vec<Vec<f64>>], settings: Settings) -> Result<Vec<Option<ComesApart>>> {
    check_settings(tempos, settings)?;
    kinds.iter().try_for_each(|k| same_length(tempos.len(), k.len()))?;
    if kinds.iter().flatten().flatten().any(|v| !(*v > 0.0 && *v < 1e60)) {
        return Err(StatsError::OutOfRange { what: "value", allowed: "above 0" });
    }
    let grid = Grid::new(tempos);
    let usable = |takes: &Vec<Vec<f64>>| {
        let n: usize = takes.iter().map(Vec::len).sum();
        n >= LEAST_NOTES && grid.levels_with(|t| !takes[t].is_empty()) >= LEAST_TEMPOS
    };
    let open: Vec<usize> = (0..kinds.len()).filter(|k| usable(&kinds[*k])).collect();
    let curves: Vec<Curve> = open.iter().map(|k| log_curve(&kinds[*k])).collect();
    let spare = Spare { shift: BETWEEN_LOGS * BETWEEN_LOGS, log: 1.0 };
    let draw = |k: usize, rng: &mut Seeded| -> Curve {
        let mut drawn = curves[k].clone();
        for (shift, v) in drawn.shift.iter_mut().zip(&curves[k].shift_variance) {
            *shift = if v.is_finite() { (v + spare.shift).sqrt() * rng.normal() } else { 0.0 };
        }
        drawn
    };
    let found = hinges_beyond_chance(&grid, &curves, spare, settings, draw);
    Ok(spread_out(kinds.len(), &open, found))
}

fn log_curve(takes: &[Vec<f64>]) -> Curve {
    let notes = takes.iter().map(Vec::len).sum();
    let mut curve = Curve::empty(takes.len(), notes, 0.0);
    let logs: Vec<Vec<f64>> = takes.iter().map(|t| t.iter().map(|v| v.ln()).collect()).collect();
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
    let squares: f64 = logs.iter().map(|v| v.iter().map(|x| (x - mean(v)).powi(2)).sum::<f64>()).sum();
    let filled = logs.iter().filter(|v| !v.is_empty()).count();
    let variance = (squares / notes.saturating_sub(filled).max(1) as f64).max(1e-4);
    for (take, v) in logs.iter().enumerate().filter(|(_, v)| !v.is_empty()) {
        curve.shift[take] = mean(v);
        curve.shift_variance[take] = variance / v.len() as f64;
    }
    curve
}

/// Hinges of the curves that are beyond chance, all of them together, and run upward.
fn hinges_beyond_chance(
    grid: &Grid,
    curves: &[Curve],
    spare: Spare,
    settings: Settings,
    draw: impl Fn(usize, &mut Seeded) -> Curve,
) -> Vec<Option<ComesApart>> {
    if curves.is_empty() || grid.levels() < LEAST_TEMPOS {
        return vec![None; curves.len()];
    }
    let fits: Vec<Fit> = curves.iter().map(|c| fit_with(grid, c, spare)).collect();
    let mut rng = Seeded::stream(settings.seed, 60);
    let mut largest: Vec<f64> = (0..settings.draws)
        .map(|_| (0..curves.len()).map(|k| fit_with(grid, &draw(k, &mut rng), spare).ratio).fold(f64::MIN, f64::max))
        .collect();
    largest.sort_by(f64::total_cmp);
    let tell = |(curve, fit): (&Curve, &Fit)| {
        let beyond = largest.len() - largest.partition_point(|l| *l < fit.ratio);
        let p = (1 + beyond) as f64 / (1 + largest.len()) as f64;
        let found = (p <= settings.alpha).then(|| profile::hinge(grid, 0, curve, spare, fit.ratio, p))?;
        (found.shift_at_top.value > settings.least_shift).then_some(found)
    };
    curves.iter().zip(&fits).map(tell).collect()
}

/// Answers of the open kinds at their places among all.
fn spread_out(kinds: usize, open: &[usize], found: Vec<Option<ComesApart>>) -> Vec<Option<ComesApart>> {
    let mut out = vec![None; kinds];
    for (k, f) in open.iter().zip(found) {
        out[*k] = f.map(|f| ComesApart { kind: *k, ..f });
    }
    out
}
