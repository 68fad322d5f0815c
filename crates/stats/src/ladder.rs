//! The tempo from which a kind of note comes apart: later, or more scattered, than it was at slower tempos, by more
//! than takes differ anyway.
//!
//! Each take of a kind is two figures against the reference notes of the same take: the difference of the means and the
//! log ratio of the SDs, the places of the line taken off. Up to the hinge both stay level; beyond it mean and SD run off
//! in a straight line, or all at once between two neighbouring tempos. One hinge is shared by both. What takes differ by anyway is a variance between takes of either figure,
//! estimated over all kinds together after the hinges are taken off and shrunk to a usual size; the null distribution of
//! the likelihood ratio is simulated from it (parametric bootstrap), because it is not chi-square: the hinge does not
//! exist under it (Davies 1987, Biometrika 74:33). The largest ratio over all kinds corrects for their number. A
//! permutation over tempos has no power at five or six of them.
//!
//! Units: `value` is the caller's (ms); tempos in theirs. Ratios are plain. What the rules here find and miss is
//! simulated in `examples/ladders.rs` (reports/ladder.md).

mod cells;
mod curve;
mod events;
mod model;
mod null;
mod places;
mod profile;

pub use events::{Counts, LEAST_EVENTS, level_hinges, rate_hinges};
pub use model::{
    ComesApart, Kind, LEAST_NOTES, LEAST_TEMPOS, LadderNote, LadderSearch, MOST_KINDS, Settings, Unusable,
};

use crate::error::Result;
use cells::Cells;
use curve::{Curve, Grid};

/// At most so many kinds are named, one after the other.
const MOST_NAMED: usize = 3;
/// Kinds whose likelihood ratio is within this of the winner's fit as well: about a factor of 7 in likelihood.
const FITS_AS_WELL: f64 = 4.0;
/// Seeks the kinds (0..`kinds`) that come apart in takes at `tempos` (one a take, in any order; takes at one tempo
/// have equal tempos).
///
/// # Errors
/// [`StatsError::OutOfRange`](crate::StatsError::OutOfRange) for more than [`MOST_KINDS`] kinds, no draws, an alpha outside 0
/// to 1 or a note of no take;
/// [`StatsError::NotFinite`](crate::StatsError::NotFinite).
pub fn come_apart(tempos: &[f64], notes: &[LadderNote], kinds: usize, settings: Settings) -> Result<LadderSearch> {
    model::check(tempos, notes, kinds, settings)?;
    let cells = Cells::new(notes, tempos.len());
    let grid = Grid::new(tempos);
    let mut search = LadderSearch {
        found: Vec::new(),
        kinds: (0..kinds)
            .map(|_| Kind { unusable: None, p_adjusted: None, could_show_shift: None, level: None })
            .collect(),
        take_sd_shift: 0.0,
        take_sd_log: 0.0,
    };
    let mut named = 0u128;
    for round in 0..MOST_NAMED as u64 {
        let mut open: Vec<(usize, Curve)> = Vec::new();
        for (k, row) in search.kinds.iter_mut().enumerate() {
            if search.found.iter().any(|f| f.kind == k) {
                continue;
            }
            match cells.curve(k, named, &grid) {
                Ok(curve) => open.push((k, curve)),
                Err(why) if round == 0 => row.unusable = Some(why),
                Err(_) => row.unusable = row.unusable.or(Some(Unusable::Named)),
            }
        }
        let Some(best) = round_of(&grid, &cells, &open, &mut search, settings, named, round) else { break };
        named |= 1 << best.kind;
        search.found.push(best);
    }
    Ok(search)
}

/// Judges the open kinds together; the best that is beyond chance and beyond the gates, if any.
fn round_of(
    grid: &Grid,
    cells: &Cells,
    open: &[(usize, Curve)],
    search: &mut LadderSearch,
    settings: Settings,
    named: u128,
    round: u64,
) -> Option<ComesApart> {
    if open.is_empty() || grid.levels() < LEAST_TEMPOS {
        return None;
    }
    let curves: Vec<&Curve> = open.iter().map(|(_, c)| c).collect();
    let members: Vec<usize> = open.iter().map(|(k, _)| *k).collect();
    let overlap = cells.overlap(&members);
    let (fits, spare) = curve::fit_all(grid, &curves, overlap);
    if round == 0 {
        (search.take_sd_shift, search.take_sd_log) = (spare.shift.sqrt(), spare.log.sqrt());
    }
    let observed = fits.iter().map(|f| f.ratio).fold(f64::MIN, f64::max);
    let mut largest = null::largest_ratios(grid, cells, open, spare, overlap, observed, settings, round);
    largest.sort_by(f64::total_cmp);
    let p_of = |ratio: f64| {
        let beyond = largest.len() - largest.partition_point(|l| *l < ratio);
        (1 + beyond) as f64 / (1 + largest.len()) as f64
    };
    let critical = quantile(&largest, 1.0 - settings.alpha);
    let mut told: Vec<(usize, f64, ComesApart)> = Vec::new();
    for ((k, curve), fit) in open.iter().zip(&fits) {
        let row = &mut search.kinds[*k];
        row.p_adjusted = Some(p_of(fit.ratio));
        if round == 0 {
            row.could_show_shift = curve.could_show(grid, spare, critical);
            row.level = curve.level(spare);
        }
        if p_of(fit.ratio) <= settings.alpha {
            let found = profile::hinge(grid, *k, curve, spare, fit.ratio, p_of(fit.ratio));
            let wide = found.ratio_at_top >= settings.least_ratio && found.parts[1];
            if wide || found.shift_at_top.value.abs() >= settings.least_shift && found.parts[0] {
                told.push((*k, fit.ratio, found));
            }
        }
    }
    told.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let as_well = told.iter().take_while(|t| t.1 >= told[0].1 - FITS_AS_WELL).count();
    told.first()?;
    let over = |whole: usize, part: usize| {
        let (w, p) = (told[whole].0, told[part].0);
        let fit = |kind: usize| open.iter().position(|(k, _)| *k == kind).map(|i| (&open[i].1, fits[i]));
        let rest = cells.curve(w, named | 1 << p, grid).ok().filter(|_| w != p && cells.holds(w, p))?;
        Some(curve::whole_over_part(grid, spare, fit(w)?, fit(p)?, &rest))
    };
    // The best may be a whole of which one part alone moves, or by chance the most extreme part of a whole: a part must
    // be the likelier by as much as kinds are told apart by.
    let parts = (0..told.len()).filter_map(|p| over(0, p).map(|d| (p, d))).filter(|(_, d)| *d < -FITS_AS_WELL);
    let part = parts.min_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |(p, _)| p);
    let wholes = (0..told.len()).filter_map(|w| over(w, part).map(|d| (w, d))).filter(|(_, d)| *d >= -FITS_AS_WELL);
    let at = wholes.max_by(|a, b| a.1.total_cmp(&b.1)).map_or(part, |(w, _)| w);
    let mut best = told[at].2.clone();
    best.rivals = told.iter().take(as_well).map(|t| t.0).filter(|k| *k != best.kind).collect();
    Some(best)
}

/// Of rising values; the largest where there are too few.
fn quantile(rising: &[f64], p: f64) -> f64 {
    let at = (p * rising.len() as f64).ceil() as usize;
    rising.get(at.min(rising.len().saturating_sub(1))).copied().unwrap_or(f64::INFINITY)
}

#[cfg(test)]
mod tests;
