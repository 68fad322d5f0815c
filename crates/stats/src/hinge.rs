//! The tempo at which a group comes apart: one hinge shared by bias and spread.
//!
//! Up to the hinge a group's bias and its spread relative to the reference notes (same-string notes at the same tempo)
//! stay level; beyond it the bias runs off in a straight line and the spread grows in one. For each hinge and each spread at
//! the top, bias and base spread have closed forms, so the likelihood is searched on a grid and then refined. The null
//! distribution of the likelihood ratio is not chi-square (the hinge does not exist under it: Davies 1987, Biometrika
//! 74:33); it comes from permuting which take was played at which tempo.

use crate::error::{Result, StatsError};
use crate::growth::{boundary, maximise};
use crate::moments::{raw_mean, raw_sum_of_squares};
use crate::permutation::tie_bound;
use crate::random::Seeded;
use crate::sample::{Estimate, Interval, Sample, same_length};

/// Fewer tempos than this cannot be told from chance by permuting them (4 tempos have 24 orders).
pub const LEAST_TEMPOS: usize = 5;
/// The spread at the top is sought up to this many times the base.
const LARGEST_RATIO: f64 = 20.0;
const HINGE_GRID: usize = 24;
const RATIO_GRID: usize = 16;
/// The reference spread of a tempo is shrunk to that of all tempos as if it had been seen on so many more notes.
const PRIOR: f64 = 8.0;
/// How far twice the log likelihood may fall inside the interval. The 95 % point of chi-square, 3.84, holds the hinge in
/// only 89 to 92 % of simulated ladders, as the likelihood is not smooth in it (Hinkley 1971, J. Am. Stat. Assoc. 66:736,
/// on the slow approach to normality); this value holds it in about 95 %.
const INTERVAL_DROP: f64 = 6.1;

/// One group against its reference, tempo by tempo.
#[derive(Debug, Clone, PartialEq)]
pub struct LadderGroup<'a> {
    /// Residuals of the group's notes (winsorised) at each tempo; a tempo may have none.
    pub group: Vec<&'a [f64]>,
    /// Residuals of the reference notes at each tempo; at least two at each tempo where the group has notes.
    pub reference: Vec<&'a [f64]>,
}

/// Where a group comes apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hinge {
    /// The hinge, in the unit of the tempos, with its 95 % profile-likelihood interval; n counts the group's notes.
    pub tempo: Estimate,
    /// Whether hinge and interval lie between the lowest and the second highest tempo; if not, the tempos do not
    /// bracket it and an end of the interval means "or beyond".
    pub bracketed: bool,
    /// Twice the log likelihood ratio against a level group.
    pub likelihood_ratio: f64,
    /// Chance of one as large for any group with the tempos permuted.
    pub p_adjusted: f64,
    /// Spread at the highest tempo over the base spread (both relative to the reference).
    pub spread_ratio_at_top: f64,
    /// How far the bias has run off at the highest tempo, in the residuals' unit.
    pub bias_at_top: f64,
    /// Level of the bias below the hinge.
    pub base_bias: f64,
    /// Spread below the hinge over that of the reference.
    pub base_spread_ratio: f64,
}

/// Sums of one tempo.
#[derive(Debug, Clone, Copy)]
struct Cell {
    n: f64,
    mean: f64,
    squares: f64,
    /// Log of the reference's SD.
    log_scale: f64,
    /// One over its variance.
    precision: f64,
}

/// Seeks a hinge in each group and judges all together. Tempos must rise (pool takes of one tempo first).
///
/// # Errors
/// [`StatsError::TooFew`] below [`LEAST_TEMPOS`] tempos with notes of a group, below 8 notes of a group or 2 reference notes at a tempo;
/// [`StatsError::LengthMismatch`]; [`StatsError::NotFinite`]; [`StatsError::OutOfRange`] if tempos do not rise or there are no
/// permutations; [`StatsError::NoSpread`] if a group or a reference does not scatter.
pub fn find_hinges(tempos: Sample, groups: &[LadderGroup], permutations: usize, seed: u64) -> Result<Vec<Hinge>> {
    tempos.need(LEAST_TEMPOS)?;
    if tempos.values().windows(2).any(|w| w[1] <= w[0]) {
        return Err(StatsError::OutOfRange { what: "list of tempos", allowed: "rising, with no two equal" });
    }
    if permutations == 0 {
        return Err(StatsError::OutOfRange { what: "number of permutations", allowed: "at least 1" });
    }
    let x = tempos.values();
    let ladders = groups.iter().map(|g| cells(g, x.len())).collect::<Result<Vec<_>>>()?;
    let grid = grid(x);
    let mut order: Vec<usize> = (0..x.len()).collect();
    let observed: Vec<f64> = ladders.iter().map(|c| grid_ratio(&grid, c, &order)).collect();
    let mut extreme = vec![0usize; groups.len()];
    let mut rng = Seeded::new(seed);
    for _ in 0..permutations {
        rng.shuffle(&mut order);
        let largest = ladders.iter().map(|c| grid_ratio(&grid, c, &order)).fold(f64::MIN, f64::max);
        for (count, o) in extreme.iter_mut().zip(&observed) {
            *count += usize::from(largest >= tie_bound(*o));
        }
    }
    Ok(ladders
        .iter()
        .zip(&extreme)
        .map(|(cells, &count)| refine(x, cells, (1 + count) as f64 / (1 + permutations) as f64))
        .collect())
}

fn cells(ladder: &LadderGroup, tempos: usize) -> Result<Vec<Cell>> {
    same_length(tempos, ladder.group.len())?;
    same_length(tempos, ladder.reference.len())?;
    let filled = ladder.group.iter().filter(|g| !g.is_empty()).count();
    if filled < LEAST_TEMPOS {
        return Err(StatsError::TooFew { needed: LEAST_TEMPOS, got: filled });
    }
    let notes: usize = ladder.group.iter().map(|g| g.len()).sum();
    if notes < 8 {
        return Err(StatsError::TooFew { needed: 8, got: notes });
    }
    let used: Vec<(&[f64], &[f64])> = ladder.group.iter().copied().zip(ladder.reference.iter().copied()).collect();
    let (mut pooled, mut pooled_df) = (0.0, 0.0);
    for (group, reference) in used.iter().filter(|(g, _)| !g.is_empty()) {
        Sample::new(group)?;
        Sample::at_least(reference, 2)?;
        pooled += raw_sum_of_squares(reference);
        pooled_df += (reference.len() - 1) as f64;
    }
    let pooled = pooled / pooled_df;
    let cells: Vec<Cell> = used
        .iter()
        .map(|(group, reference)| {
            if group.is_empty() {
                return Cell { n: 0.0, mean: 0.0, squares: 0.0, log_scale: 0.0, precision: 1.0 };
            }
            let df = (reference.len() - 1) as f64;
            let variance = ((raw_sum_of_squares(reference) + PRIOR * pooled) / (df + PRIOR)).max(f64::MIN_POSITIVE);
            let mean = raw_mean(group) - raw_mean(reference);
            let (log_scale, precision) = (0.5 * variance.ln(), 1.0 / variance);
            Cell { n: group.len() as f64, mean, squares: raw_sum_of_squares(group), log_scale, precision }
        })
        .collect();
    let scatter: f64 = cells.iter().map(|c| c.squares).sum();
    if pooled <= 0.0 || scatter <= 0.0 { Err(StatsError::NoSpread) } else { Ok(cells) }
}

/// One tempo under a hinge and a spread at the top: how far it lies beyond the hinge (1 at the top), the log of its spread
/// over the base, and one over that squared.
#[derive(Debug, Clone, Copy)]
struct Shape {
    beyond: f64,
    log: f64,
    inverse_square: f64,
}

const LEVEL: Shape = Shape { beyond: 0.0, log: 0.0, inverse_square: 1.0 };

fn shapes(x: &[f64], hinge: f64, ratio: f64) -> Vec<Shape> {
    let top = x[x.len() - 1];
    x.iter()
        .map(|x| {
            let beyond = ((x - hinge) / (top - hinge)).max(0.0);
            let spread = 1.0 + (ratio - 1.0) * beyond;
            Shape { beyond, log: spread.ln(), inverse_square: 1.0 / (spread * spread) }
        })
        .collect()
}

/// The best level and slope of the bias and the base spread for given shapes.
#[derive(Debug, Clone, Copy)]
struct Level {
    log_likelihood: f64,
    bias: f64,
    slope: f64,
    spread: f64,
}

fn level<'a>(cells: impl Iterator<Item = &'a Cell>, shapes: impl Iterator<Item = Shape>) -> Level {
    let (mut n, mut logs) = (0.0, 0.0);
    let [mut w, mut wt, mut wtt, mut wy, mut wty, mut energy] = [0.0; 6];
    for (c, s) in cells.zip(shapes) {
        let precision = c.precision * s.inverse_square;
        let (weight, t) = (c.n * precision, s.beyond);
        n += c.n;
        logs += c.n * (c.log_scale + s.log);
        w += weight;
        wt += weight * t;
        wtt += weight * t * t;
        wy += weight * c.mean;
        wty += weight * t * c.mean;
        energy += weight * c.mean * c.mean + c.squares * precision;
    }
    let determinant = w * wtt - wt * wt;
    let (bias, slope) = if determinant > 1e-9 * w * wtt {
        ((wtt * wy - wt * wty) / determinant, (w * wty - wt * wy) / determinant)
    } else {
        (wy / w, 0.0)
    };
    let left = (energy - bias * wy - slope * wty).max(f64::MIN_POSITIVE);
    Level { log_likelihood: -logs - 0.5 * n * (left / n).ln(), bias, slope, spread: (left / n).sqrt() }
}

fn at_hinge(x: &[f64], cells: &[Cell], hinge: f64, ratio: f64) -> Level {
    level(cells.iter(), shapes(x, hinge, ratio).into_iter())
}

fn flat(cells: &[Cell]) -> f64 {
    level(cells.iter(), std::iter::repeat(LEVEL)).log_likelihood
}

/// Hinges from the lowest tempo to halfway between the two highest.
fn hinge_range(x: &[f64]) -> (f64, f64) {
    (x[0], 0.5 * (x[x.len() - 2] + x[x.len() - 1]))
}

/// All hinges and spreads that are tried for each permutation; they do not depend on it.
fn grid(x: &[f64]) -> Vec<Vec<Shape>> {
    let (low, high) = hinge_range(x);
    let mut grid = Vec::with_capacity((HINGE_GRID + 1) * (RATIO_GRID + 1));
    for h in 0..=HINGE_GRID {
        let hinge = low + (high - low) * h as f64 / HINGE_GRID as f64;
        for r in 0..=RATIO_GRID {
            grid.push(shapes(x, hinge, LARGEST_RATIO.powf(r as f64 / RATIO_GRID as f64)));
        }
    }
    grid
}

/// The likelihood ratio on the grid with the take at `order[k]` set at tempo k.
fn grid_ratio(grid: &[Vec<Shape>], cells: &[Cell], order: &[usize]) -> f64 {
    let best = grid
        .iter()
        .map(|s| level(order.iter().map(|&k| &cells[k]), s.iter().copied()).log_likelihood)
        .fold(f64::MIN, f64::max);
    2.0 * (best - flat(cells))
}

fn refine(x: &[f64], cells: &[Cell], p_adjusted: f64) -> Hinge {
    let (low, high) = hinge_range(x);
    let best_ratio =
        |hinge: f64| maximise(|r| at_hinge(x, cells, hinge, r.exp()).log_likelihood, 0.0, LARGEST_RATIO.ln()).exp();
    let profile = |hinge: f64| at_hinge(x, cells, hinge, best_ratio(hinge)).log_likelihood;
    let hinge = maximise(profile, low, high);
    let ratio = best_ratio(hinge);
    let fit = at_hinge(x, cells, hinge, ratio);
    let excess = |h: f64| 2.0 * (fit.log_likelihood - profile(h)) - INTERVAL_DROP;
    let interval = Interval { low: boundary(excess, hinge, low), high: boundary(excess, hinge, high) };
    let n = cells.iter().map(|c| c.n as usize).sum();
    Hinge {
        tempo: Estimate { value: hinge, interval, n },
        bracketed: interval.low > low && interval.high < x[x.len() - 2],
        likelihood_ratio: 2.0 * (fit.log_likelihood - flat(cells)),
        p_adjusted,
        spread_ratio_at_top: ratio,
        bias_at_top: fit.slope,
        base_bias: fit.bias,
        base_spread_ratio: fit.spread,
    }
}

#[cfg(test)]
mod tests;
