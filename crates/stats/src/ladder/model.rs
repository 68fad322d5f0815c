//! What is asked and what is answered when kinds of note are sought that come apart, and what is refused.

use crate::error::{Result, StatsError};
use crate::sample::{Estimate, Interval};

/// Fewer tempos than this show no hinge: two to be level at, one to depart at, and one to tell it from a single take.
pub const LEAST_TEMPOS: usize = 4;
/// Fewer notes of a kind in all are not sought in.
pub const LEAST_NOTES: usize = 8;
/// Most kinds that are told apart at once.
pub const MOST_KINDS: usize = 128;
/// The 1 % point of chi-square with one degree of freedom: lateness or scatter is told as a part of a hinge from here.
pub(super) const PART_TOLD: f64 = 6.63;

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

pub(super) fn check(tempos: &[f64], notes: &[LadderNote], kinds: usize, settings: Settings) -> Result<()> {
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

pub(super) fn check_settings(tempos: &[f64], settings: Settings) -> Result<()> {
    if settings.draws == 0 || !(settings.alpha > 0.0 && settings.alpha < 1.0) {
        return Err(StatsError::OutOfRange { what: "alpha or number of draws", allowed: "0 < alpha < 1, draws >= 1" });
    }
    match tempos.iter().position(|t| !(t.is_finite() && t.abs() < 1e9)) {
        Some(index) => Err(StatsError::NotFinite { index }),
        None => Ok(()),
    }
}

/// An estimate with a normal 95 % interval.
pub(super) fn normal_estimate(value: f64, variance: f64, n: usize) -> Estimate {
    let reach = 1.959_964 * variance.max(0.0).sqrt();
    Estimate { value, interval: Interval { low: value - reach, high: value + reach }, n }
}
