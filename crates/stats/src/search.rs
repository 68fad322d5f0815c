//! The search for the groups of notes that differ from the rest, in location or in spread.
//!
//! Testing one group at a time misleads: the late notes move their own reference, groups nest and coincide, and tests
//! that assume equal spreads cry wolf where spreads differ. Here groups enter one at a time, the one that fits best
//! first, judged by a permutation test of the largest likelihood ratio over all groups; then whatever is left after it.
//!
//! Inputs are plain: a residual for each judged note, the number of its repeat (block) and of its place in the line,
//! and candidate groups as sets of note indices. Naming and wording are the caller's.

mod candidates;
mod fit;
mod place;
mod rates;
mod score;

pub use candidates::{CandidateSet, Candidates};
pub use fit::joint_effects;
pub use place::PlaceCheck;
pub use rates::{FoundRate, RateSearch, search_rates};

use crate::comparison::{brown_forsythe, welch};
use crate::error::{Result, StatsError};
use crate::permutation::{BlockShuffle, tie_bound};
use crate::robust::winsorise;
use crate::sample::{Sample, same_length};
use fit::{Effect, JointFit};
use score::Scorer;

/// The 1 % point of chi-square with one degree of freedom: a term stays while its likelihood ratio
/// given the others is at least this.
const TERM_STAYS: f64 = 6.63;

/// Groups whose likelihood ratio is within this of the winner's fit as well: about a factor of 7 in likelihood.
const FITS_AS_WELL: f64 = 4.0;

/// Level at which the mean shift or the change of spread of a found group enters the fit.
const TERM_ENTERS: f64 = 0.01;

/// How to search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Chance of any finding where nothing differs; 0.025 by default.
    pub alpha: f64,
    /// Number of permutations a round; 1,999 by default.
    pub permutations: usize,
    /// Seed of the permutations.
    pub seed: u64,
    /// Residuals beyond this many scaled MADs from the median are pulled in for the search; 4 by default.
    pub winsorise_at: f64,
    /// At most so many groups are found; 4 by default, at most 8.
    pub most_groups: usize,
}

impl Settings {
    /// The defaults with a seed.
    pub fn new(seed: u64) -> Self {
        Self { alpha: 0.025, permutations: 1999, seed, winsorise_at: 4.0, most_groups: 4 }
    }

    fn check(&self) -> Result<()> {
        if !(self.alpha > 0.0 && self.alpha < 1.0) {
            return Err(StatsError::OutOfRange { what: "alpha", allowed: "above 0 and below 1" });
        }
        if self.permutations == 0 {
            return Err(StatsError::OutOfRange { what: "number of permutations", allowed: "at least 1" });
        }
        if !(1..=8).contains(&self.most_groups) {
            return Err(StatsError::OutOfRange { what: "number of groups", allowed: "1 to 8" });
        }
        Ok(())
    }
}

/// A group that differs from the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Index into [`Candidates::sets`].
    pub set: usize,
    /// Its likelihood ratio (two normals against one) in the round that found it.
    pub likelihood_ratio: f64,
    /// Chance of a likelihood ratio as large for any candidate where nothing (more) differs.
    pub p_adjusted: f64,
    /// Shift of its mean against the notes in no found group, in the unit of the residuals, if its mean entered. From
    /// winsorised residuals: for a report use [`joint_effects`] on the residuals themselves.
    pub mean_shift: Option<f64>,
    /// Its SD over that of the notes in no found group, if its spread entered.
    pub sd_ratio: Option<f64>,
    /// Sets that fit as well: indices into [`Candidates::sets`] in falling order of likelihood ratio.
    pub rivals: Vec<usize>,
    /// Whether the effect holds across the places of the line.
    pub places: PlaceCheck,
}

/// All groups found, in the order found.
#[derive(Debug, Clone, PartialEq)]
pub struct Search {
    /// The groups.
    pub found: Vec<Found>,
    /// Mean of the notes in no found group.
    pub baseline_mean: f64,
    /// SD of the notes in no found group.
    pub baseline_sd: f64,
    /// The adjusted p of the round that ended the search: what was left over; `None` where the search ended because
    /// enough groups were found or nothing was left to test.
    pub p_of_rest: Option<f64>,
    /// How many residuals were pulled in.
    pub winsorised: usize,
}

/// Searches residuals for groups that differ in mean or spread. `blocks[k]` is the repeat of note k (values are
/// permuted within it), `places[k]` its place in the line.
///
/// # Errors
/// [`StatsError::LengthMismatch`] if the lists or the candidates' number of notes differ; [`StatsError::OutOfRange`] for
/// settings out of range; [`StatsError::NoSpread`] if all residuals are equal; [`StatsError::TooFew`] below 8 residuals.
pub fn search_groups(
    residuals: Sample,
    blocks: &[usize],
    places: &[usize],
    candidates: &Candidates,
    settings: Settings,
) -> Result<Search> {
    settings.check()?;
    residuals.need(8)?;
    for length in [blocks.len(), places.len(), candidates.notes()] {
        same_length(residuals.len(), length)?;
    }
    let mut values = residuals.values().to_vec();
    let winsorised = winsorise(&mut values, settings.winsorise_at)?;
    let mut fit = JointFit::new(&values, &[], candidates)?;
    let mut rounds = Vec::<Round>::new();
    let mut dropped = Vec::<usize>::new();
    let mut p_of_rest = None;
    // A set that was dropped again does not come back, so that the number of rounds is bounded; twice the groups is ample.
    for round in 0..2 * settings.most_groups {
        if rounds.len() == settings.most_groups {
            break;
        }
        let z = fit.standardised(&values);
        let taken: Vec<usize> = rounds.iter().map(|r| r.set).chain(dropped.iter().copied()).collect();
        let Some(best) = best_group(&z, blocks, candidates, &taken, settings, round as u64)? else { break };
        if best.p_adjusted > settings.alpha {
            p_of_rest = Some(best.p_adjusted);
            break;
        }
        let (mean, spread) = what_enters(&z, candidates, best.set)?;
        rounds.push(Round { mean, spread, ..best });
        fit = prune(&values, candidates, &mut rounds, &mut dropped)?;
    }
    let found_count = rounds.len();
    if rounds.is_empty() {
        return Ok(Search {
            found: Vec::new(),
            baseline_mean: fit.baseline_mean(),
            baseline_sd: fit.baseline_sd(),
            p_of_rest,
            winsorised,
        });
    }
    let null = place::PlaceNull::new(candidates, places, settings.seed);
    let found = rounds
        .into_iter()
        .map(|r| {
            let places = place::check_residuals(&fit, &values, candidates, &r.effect(), places, &null, found_count);
            let (mean_shift, sd_ratio) = fit.of(r.set);
            Found {
                set: r.set,
                likelihood_ratio: r.likelihood_ratio,
                p_adjusted: r.p_adjusted,
                mean_shift,
                sd_ratio,
                rivals: r.rivals,
                places,
            }
        })
        .collect();
    Ok(Search { found, baseline_mean: fit.baseline_mean(), baseline_sd: fit.baseline_sd(), p_of_rest, winsorised })
}

/// The winner of a round.
#[derive(Debug, Clone)]
struct Round {
    set: usize,
    likelihood_ratio: f64,
    p_adjusted: f64,
    rivals: Vec<usize>,
    mean: bool,
    spread: bool,
}

impl Round {
    fn effect(&self) -> Effect {
        Effect { set: self.set, mean: self.mean, spread: self.spread }
    }
}

/// Scores every set on `z` and judges the largest score by permutation; `None` if no set is left to score.
fn best_group(
    z: &[f64],
    blocks: &[usize],
    candidates: &Candidates,
    taken: &[usize],
    settings: Settings,
    round: u64,
) -> Result<Option<Round>> {
    let open: Vec<usize> = (0..candidates.sets().len()).filter(|s| !taken.contains(s)).collect();
    let sample = Sample::new(z)?;
    let mut scorer = Scorer::new(candidates, &open, z.len());
    let scores = scorer.scores(z).to_vec();
    let Some(winner) = (0..open.len()).max_by(|&a, &b| scores[a].total_cmp(&scores[b]).then(b.cmp(&a))) else {
        return Ok(None);
    };
    let observed = scores[winner];
    let mut shuffle = BlockShuffle::new(sample, blocks, settings.seed.wrapping_add(round))?;
    let least = tie_bound(observed);
    let extreme = (0..settings.permutations).filter(|_| scorer.largest(shuffle.next_values()) >= least).count();
    Ok(Some(Round {
        set: open[winner],
        likelihood_ratio: observed,
        p_adjusted: (1 + extreme) as f64 / (1 + settings.permutations) as f64,
        rivals: rivals(&open, &scores, winner),
        mean: false,
        spread: false,
    }))
}

fn rivals(open: &[usize], scores: &[f64], winner: usize) -> Vec<usize> {
    let mut close: Vec<usize> =
        (0..open.len()).filter(|&k| k != winner && scores[k] >= scores[winner] - FITS_AS_WELL).collect();
    close.sort_by(|&a, &b| scores[b].total_cmp(&scores[a]).then(a.cmp(&b)));
    close.into_iter().map(|k| open[k]).collect()
}

/// Whether the mean shift and the spread of a set enter: Welch and Brown-Forsythe below 0.01, else the smaller p.
fn what_enters(z: &[f64], candidates: &Candidates, set: usize) -> Result<(bool, bool)> {
    let (inside, outside) = candidates.split(z, set);
    let (inside, outside) = (Sample::new(&inside)?, Sample::new(&outside)?);
    // A test that is undefined because nothing scatters says nothing against the other.
    let mean = welch(inside, outside, 0.95).map_or(1.0, |d| d.p);
    let spread = brown_forsythe(&[inside, outside]).map_or(1.0, |f| f.p);
    let enters = (mean < TERM_ENTERS, spread < TERM_ENTERS);
    Ok(if enters == (false, false) { (mean <= spread, mean > spread) } else { enters })
}

/// Refits all found groups jointly and takes out, weakest first, terms that the others have made idle.
fn prune(
    values: &[f64],
    candidates: &Candidates,
    rounds: &mut Vec<Round>,
    dropped: &mut Vec<usize>,
) -> Result<JointFit> {
    loop {
        let effects: Vec<Effect> = rounds.iter().map(Round::effect).collect();
        let fit = match JointFit::new(values, &effects, candidates) {
            // The newest group is made up of the others (two of them together, or all notes they leave): it adds nothing.
            Err(StatsError::Singular) => {
                dropped.extend(rounds.pop().map(|r| r.set));
                continue;
            }
            fit => fit?,
        };
        let Some((index, is_mean, ratio)) = fit.weakest_term(values, candidates)? else { return Ok(fit) };
        // The only term of the only group was judged by permutation already.
        let only = effects.len() == 1 && effects[0].mean != effects[0].spread;
        if ratio >= TERM_STAYS || only {
            return Ok(fit);
        }
        if is_mean {
            rounds[index].mean = false
        } else {
            rounds[index].spread = false
        }
        if !rounds[index].mean && !rounds[index].spread {
            dropped.push(rounds.remove(index).set);
        }
    }
}

#[cfg(test)]
mod tests;
