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
mod null;
mod places;
mod profile;

pub use events::{Counts, LEAST_EVENTS, level_hinges, rate_hinges};

use crate::error::{Result, StatsError};
use crate::sample::{Estimate, Interval};
use cells::Cells;
use curve::{Curve, Grid, Spare};

/// Fewer tempos than this show no hinge: two to be level at, one to depart at, and one to tell it from a single take.
pub const LEAST_TEMPOS: usize = 4;
/// Fewer notes of a kind in all are not sought in.
pub const LEAST_NOTES: usize = 8;
/// Most kinds that are told apart at once.
pub const MOST_KINDS: usize = 128;
/// At most so many kinds are named, one after the other.
const MOST_NAMED: usize = 3;
/// Kinds whose likelihood ratio is within this of the winner's fit as well: about a factor of 7 in likelihood.
const FITS_AS_WELL: f64 = 4.0;
/// The 1 % point of chi-square with one degree of freedom: lateness or scatter is told as a part of a hinge from here.
const PART_TOLD: f64 = 6.63;

/// One note of one take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LadderNote {
    /// Index of its take.
    pub take: usize,
    /// Its place in the line; what all takes have in common at a place is neither lateness of a take nor scatter.
    pub place: usize,
    /// Its residual.
    pub value: f64,
    /// Bit k is set if it is a note of kind k.
    pub kinds: u128,
    /// Whether it is one of those that the kinds are held against.
    pub reference: bool,
}

/// How to seek.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Chance of any kind named where none comes apart.
    pub alpha: f64,
    /// Simulated ladders behind each p-value.
    pub draws: usize,
    /// Seed of the simulation.
    pub seed: u64,
    /// A hinge is named from this lateness (or earliness) at the top on ...
    pub least_shift: f64,
    /// ... or from this growth of the SD at the top on.
    pub least_ratio: f64,
}

/// A kind that comes apart.
#[derive(Debug, Clone, PartialEq)]
pub struct ComesApart {
    /// Which kind.
    pub kind: usize,
    /// From which tempo (the median over the profile likelihood), with its 95 % interval; n counts the kind's notes.
    pub tempo: Estimate,
    /// Whether the interval lies between the lowest and the second highest tempo; if not, an end means "or beyond".
    pub bracketed: bool,
    /// Whether it fits better as all at once between two neighbouring tempos than as growing from the hinge on.
    pub at_once: bool,
    /// Twice the log likelihood ratio against a level kind.
    pub likelihood_ratio: f64,
    /// Chance of one as large for any kind where none comes apart.
    pub p_adjusted: f64,
    /// How far the mean has run off at the highest tempo, signed, with its 95 % interval at this hinge.
    pub shift_at_top: Estimate,
    /// SD at the highest tempo over the SD below the hinge, both against the reference.
    pub ratio_at_top: f64,
    /// Mean against the reference below the hinge.
    pub base_shift: f64,
    /// Whether the mean, and whether the scatter, is a part of it by itself.
    pub parts: [bool; 2],
    /// Kinds that fit as well, best first.
    pub rivals: Vec<usize>,
}

/// A kind that was sought in.
#[derive(Debug, Clone, PartialEq)]
pub struct Kind {
    /// Why it could not be, where it could not.
    pub unusable: Option<Unusable>,
    /// Chance of a ratio as large for any kind where none comes apart; that of the last round it was in.
    pub p_adjusted: Option<f64>,
    /// The lateness at the top, growing from the middle tempo on, that these takes would show with a chance of 80 %.
    pub could_show_shift: Option<f64>,
    /// Mean against the reference over all takes, with its 95 % interval, takes' own differences included.
    pub level: Option<Estimate>,
}

/// Why a kind is not sought in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unusable {
    /// At too few tempos; how many.
    Tempos(usize),
    /// Too few notes; how many.
    Notes(usize),
    /// Nothing to hold it against.
    Reference,
    /// All of its notes are among those of kinds already named.
    Named,
}

/// All that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct LadderSearch {
    /// The kinds named, in the order found.
    pub found: Vec<ComesApart>,
    /// One a kind.
    pub kinds: Vec<Kind>,
    /// SD by which the mean of a kind differs from take to take beyond its notes' scatter.
    pub take_sd_shift: f64,
    /// The same of the log of its SD.
    pub take_sd_log: f64,
}

/// Seeks the kinds (0..`kinds`) that come apart in takes at `tempos` (one a take, in any order; takes at one tempo
/// have equal tempos).
///
/// # Errors
/// [`StatsError::OutOfRange`] for more than [`MOST_KINDS`] kinds, no draws, an alpha outside 0 to 1 or a note of no take;
/// [`StatsError::NotFinite`].
pub fn come_apart(tempos: &[f64], notes: &[LadderNote], kinds: usize, settings: Settings) -> Result<LadderSearch> {
    check(tempos, notes, kinds, settings)?;
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

fn check(tempos: &[f64], notes: &[LadderNote], kinds: usize, settings: Settings) -> Result<()> {
    if kinds > MOST_KINDS {
        return Err(StatsError::OutOfRange { what: "number of kinds", allowed: "at most 128" });
    }
    check_settings(tempos, settings)?;
    if let Some(index) = notes.iter().position(|n| !(n.value.is_finite() && n.value.abs() < 1e60)) {
        return Err(StatsError::NotFinite { index });
    }
    match notes.iter().find(|n| n.take >= tempos.len()) {
        Some(_) => Err(StatsError::OutOfRange { what: "take of a note", allowed: "one of the takes" }),
        None => Ok(()),
    }
}

fn check_settings(tempos: &[f64], settings: Settings) -> Result<()> {
    if settings.draws == 0 || !(settings.alpha > 0.0 && settings.alpha < 1.0) {
        return Err(StatsError::OutOfRange { what: "alpha or number of draws", allowed: "0 < alpha < 1, draws >= 1" });
    }
    match tempos.iter().position(|t| !(t.is_finite() && t.abs() < 1e9)) {
        Some(index) => Err(StatsError::NotFinite { index }),
        None => Ok(()),
    }
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

/// An estimate with a normal 95 % interval.
fn normal_estimate(value: f64, variance: f64, n: usize) -> Estimate {
    let reach = 1.959_964 * variance.max(0.0).sqrt();
    Estimate { value, interval: Interval { low: value - reach, high: value + reach }, n }
}

impl Spare {
    /// Before anything is known of these takes.
    fn usual() -> Self {
        Self { shift: curve::USUAL_SHIFT * curve::USUAL_SHIFT, log: curve::USUAL_LOG * curve::USUAL_LOG }
    }
}

#[cfg(test)]
mod tests;
