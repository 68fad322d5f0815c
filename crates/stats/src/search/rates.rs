//! The same search for things that happen or do not: missed notes, wrong pitches.

use super::place::{self, PlaceCheck, PlaceNull};
use super::{Candidates, Settings};
use crate::error::{Result, StatsError};
use crate::permutation::{BlockShuffle, tie_bound};
use crate::sample::{Sample, same_length};

/// A group whose rate differs.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundRate {
    /// Index into [`Candidates::sets`].
    pub set: usize,
    /// Twice the log likelihood ratio of two rates against one, summed over strata of the groups found before.
    pub likelihood_ratio: f64,
    /// Chance of one as large for any candidate where nothing (more) differs.
    pub p_adjusted: f64,
    /// Hits and notes inside.
    pub inside: [usize; 2],
    /// Hits and notes outside.
    pub outside: [usize; 2],
    /// Sets that fit as well.
    pub rivals: Vec<usize>,
    /// Whether the effect holds across the places of the line.
    pub places: PlaceCheck,
}

/// All groups whose rates differ, in the order found.
#[derive(Debug, Clone, PartialEq)]
pub struct RateSearch {
    /// The groups.
    pub found: Vec<FoundRate>,
    /// The adjusted p of the round that ended the search, if one did.
    pub p_of_rest: Option<f64>,
}

/// Searches for groups with another rate of hits. Hits are permuted within blocks and, once groups were found, within
/// the strata these make, which holds what was found fixed (conditional inference: Cochran 1954, Biometrics 10:417).
///
/// # Errors
/// [`StatsError::LengthMismatch`]; [`StatsError::OutOfRange`] for settings out of range; [`StatsError::Empty`] for no notes.
pub fn search_rates(
    hits: &[bool],
    blocks: &[usize],
    places: &[usize],
    candidates: &Candidates,
    settings: Settings,
) -> Result<RateSearch> {
    settings.check()?;
    for length in [blocks.len(), places.len(), candidates.notes()] {
        same_length(hits.len(), length)?;
    }
    if hits.is_empty() {
        return Err(StatsError::Empty);
    }
    let values: Vec<f64> = hits.iter().map(|&h| f64::from(u8::from(h))).collect();
    let mut result = RateSearch { found: Vec::new(), p_of_rest: None };
    if !hits.contains(&true) || !hits.contains(&false) {
        return Ok(result);
    }
    let mut strata = vec![0usize; hits.len()];
    for round in 0..settings.most_groups {
        let taken: Vec<usize> = result.found.iter().map(|f| f.set).collect();
        let open: Vec<usize> = (0..candidates.sets().len()).filter(|s| !taken.contains(s)).collect();
        if open.is_empty() {
            break;
        }
        let scorer = RateScorer::new(candidates, &open, &strata, round);
        let scores = scorer.scores(&values);
        let Some(winner) = (0..open.len()).max_by(|&a, &b| scores[a].total_cmp(&scores[b]).then(b.cmp(&a))) else {
            break;
        };
        let least = tie_bound(scores[winner]);
        let cells: Vec<usize> = blocks.iter().zip(&strata).map(|(b, s)| b.saturating_mul(256) + s).collect();
        let mut shuffle = BlockShuffle::new(Sample::new(&values)?, &cells, settings.seed.wrapping_add(round as u64))?;
        let extreme = (0..settings.permutations)
            .filter(|_| scorer.scores(shuffle.next_values()).iter().any(|s| *s >= least))
            .count();
        let p_adjusted = (1 + extreme) as f64 / (1 + settings.permutations) as f64;
        if p_adjusted > settings.alpha {
            result.p_of_rest = Some(p_adjusted);
            break;
        }
        let set = open[winner];
        let indicator = candidates.indicator(set);
        let (inside, outside) = candidates.split(&values, set);
        let count = |v: &[f64]| [v.iter().sum::<f64>() as usize, v.len()];
        result.found.push(FoundRate {
            set,
            likelihood_ratio: scores[winner],
            p_adjusted,
            inside: count(&inside),
            outside: count(&outside),
            rivals: super::rivals(&open, &scores, winner),
            places: place::conclude(&[], &indicator, places, 1),
        });
        for (s, i) in strata.iter_mut().zip(&indicator) {
            *s |= usize::from(*i == 1.0) << round;
        }
    }
    let findings = result.found.len();
    if findings == 0 {
        return Ok(result);
    }
    let null = PlaceNull::new(candidates, places, settings.seed);
    for f in &mut result.found {
        let indicator = candidates.indicator(f.set);
        let p = null.test(&values, &indicator);
        f.places = place::conclude(&[p], &indicator, places, findings);
    }
    Ok(result)
}

/// Scores rates stratum by stratum.
struct RateScorer {
    /// For each open set, for each stratum: the notes inside.
    inside: Vec<Vec<Vec<u32>>>,
    /// For each stratum: its notes.
    strata: Vec<Vec<u32>>,
}

impl RateScorer {
    fn new(candidates: &Candidates, open: &[usize], strata: &[usize], rounds: usize) -> Self {
        let by_stratum = |notes: &mut dyn Iterator<Item = usize>| {
            let mut lists = vec![Vec::new(); 1 << rounds];
            for k in notes {
                lists[strata[k]].push(k as u32);
            }
            lists
        };
        Self {
            inside: open.iter().map(|&s| by_stratum(&mut candidates.sets()[s].notes.iter().copied())).collect(),
            strata: by_stratum(&mut (0..strata.len())),
        }
    }

    fn scores(&self, values: &[f64]) -> Vec<f64> {
        let total = |notes: &[u32]| notes.iter().map(|&k| values[k as usize]).sum::<f64>();
        let whole: Vec<f64> = self.strata.iter().map(|s| total(s)).collect();
        self.inside
            .iter()
            .map(|lists| {
                let parts = lists.iter().zip(&whole).zip(&self.strata);
                parts.map(|((l, w), s)| ratio(total(l), l.len() as f64, *w, s.len() as f64)).sum()
            })
            .collect()
    }
}

/// Twice the log likelihood ratio of two binomial rates against one (G^2: Wilks 1938, Ann. Math. Stat. 9:60).
fn ratio(hits: f64, n: f64, all_hits: f64, all: f64) -> f64 {
    if n <= 0.0 || n >= all {
        return 0.0;
    }
    let log = |k: f64, n: f64| {
        let term = |x: f64| if x > 0.0 { x * (x / n).ln() } else { 0.0 };
        term(k) + term(n - k)
    };
    2.0 * (log(hits, n) + log(all_hits - hits, all - n) - log(all_hits, all))
}
