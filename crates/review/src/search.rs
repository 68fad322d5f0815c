//! The search for groups that differ, and what each found group's effect is.
//!
//! Groups enter one at a time, the one that fits best first, by a permutation test of the largest likelihood ratio over
//! all groups (`takegauge_stats::search`); here its inputs are made and its answers turned back into named groups.

use takegauge_stats::search::{Candidates, PlaceCheck, Settings, joint_effects, search_groups, search_rates};
use takegauge_stats::{Estimate, Sample, bootstrap, robust};

use crate::basis::{Basis, difference};
use crate::estimates::{CONFIDENCE, LEAST_FOR_ESTIMATES, TRIM};
use crate::group_key::GroupKey;
use crate::groups::Group;

/// Chance of any timing finding in a take where nothing differs.
pub(crate) const ALPHA: f64 = 0.025;

/// The same for each of the other searches: not heard, wrong pitch, extra, ringing over, level.
pub(crate) const ALPHA_OF_OTHERS: f64 = 0.0025;

/// Fewer notes than this are not searched.
pub(crate) const LEAST_NOTES: usize = 12;

/// Blocks (repeats) from which on an interval comes from resampling them; with fewer it is Yuen's: resampling seven
/// repeats held a planted lateness in only 80 of 100 takes.
const LEAST_BLOCKS: usize = 12;

const RESAMPLES: usize = 999;

/// With more notes than this Yuen's interval is as good and far cheaper.
const MOST_RESAMPLED: usize = 3000;

/// A group that a search found, named.
#[derive(Debug, Clone)]
pub(crate) struct FoundGroup {
    pub(crate) key: GroupKey,
    pub(crate) label: String,
    /// Indices into the notes reached, rising: those the search saw.
    pub(crate) members: Vec<usize>,
    /// The group on the other side, where its notes are exactly all the others.
    pub(crate) against: Option<String>,
    pub(crate) p_adjusted: f64,
    /// Whether its mean (or rate) differs, and its spread.
    pub(crate) mean: bool,
    pub(crate) spread: Option<f64>,
    pub(crate) places: PlaceCheck,
    /// Groups with the same notes, or that fit as well.
    pub(crate) or_also: Vec<GroupKey>,
}

impl FoundGroup {
    /// Whether the note at `i` of those reached is one of it.
    pub(crate) fn has(&self, i: usize) -> bool {
        self.members.binary_search(&i).is_ok()
    }
}

/// What a search over values answers.
#[derive(Debug, Default)]
pub(crate) struct Searched {
    pub(crate) found: Vec<FoundGroup>,
    /// Distinct groups tried.
    pub(crate) tried: usize,
}

/// The notes a search sees: indices into the notes reached, with their blocks and places.
struct Seen {
    notes: Vec<usize>,
    blocks: Vec<usize>,
    places: Vec<usize>,
}

impl Seen {
    fn new(basis: &Basis, notes: Vec<usize>) -> Self {
        let blocks = notes.iter().map(|&i| basis.notes[i].block).collect();
        let places = notes.iter().map(|&i| basis.notes[i].grid.position).collect();
        Self { notes, blocks, places }
    }

    fn candidates(&self, groups: &[&Group]) -> Option<Candidates> {
        let inside = |g: &&Group| {
            let has = |k: &usize| g.members.binary_search(&self.notes[*k]).is_ok();
            (0..self.notes.len()).filter(has).collect::<Vec<usize>>()
        };
        Candidates::new(self.notes.len(), &groups.iter().map(inside).collect::<Vec<_>>()).ok()
    }
}

/// How every search is made.
pub(crate) fn settings(alpha: f64, seed: u64) -> Settings {
    Settings { alpha, ..Settings::new(seed) }
}

/// Searches values (one for each note reached, `None` where there is none) for groups that differ in mean or spread.
pub(crate) fn of_values(basis: &Basis, groups: &[&Group], values: &[Option<f64>], alpha: f64, seed: u64) -> Searched {
    let seen = Seen::new(basis, (0..values.len()).filter(|&i| values[i].is_some()).collect());
    let y: Vec<f64> = seen.notes.iter().filter_map(|&i| values[i]).collect();
    let Some(candidates) = seen.candidates(groups) else { return Searched::default() };
    let tried = candidates.sets().len();
    let Ok(sample) = Sample::at_least(&y, LEAST_NOTES) else { return Searched { found: Vec::new(), tried } };
    // What remains are takes without any spread (exact answers): nothing differs by chance there.
    let Ok(search) = search_groups(sample, &seen.blocks, &seen.places, &candidates, settings(alpha, seed)) else {
        return Searched { found: Vec::new(), tried };
    };
    let found = search
        .found
        .iter()
        .map(|f| {
            let more = f.mean_shift.map_or(f.sd_ratio.unwrap_or(1.0) - 1.0, |m| m);
            FoundGroup {
                p_adjusted: f.p_adjusted,
                mean: f.mean_shift.is_some(),
                spread: f.sd_ratio,
                places: f.places,
                ..named(&seen, groups, &candidates, f.set, &f.rivals, more < 0.0)
            }
        })
        .collect();
    Searched { found, tried }
}

/// Searches things that happen or do not, over the picked notes reached, for groups where they happen more often.
pub(crate) fn of_events(basis: &Basis, groups: &[&Group], happened: impl Fn(usize) -> bool, seed: u64) -> Searched {
    let seen = Seen::new(basis, (0..basis.notes.len()).filter(|&i| basis.notes[i].grid.picked()).collect());
    let hits: Vec<bool> = seen.notes.iter().map(|&i| happened(i)).collect();
    let Some(candidates) = seen.candidates(groups).filter(|_| hits.len() >= LEAST_NOTES) else {
        return Searched::default();
    };
    let tried = candidates.sets().len();
    let settings = settings(ALPHA_OF_OTHERS, seed);
    let Ok(search) = search_rates(&hits, &seen.blocks, &seen.places, &candidates, settings) else {
        return Searched { found: Vec::new(), tried };
    };
    let rate = |of: [usize; 2]| of[0] as f64 / of[1].max(1) as f64;
    let found = search
        .found
        .iter()
        .map(|f| FoundGroup {
            p_adjusted: f.p_adjusted,
            mean: true,
            spread: None,
            places: f.places,
            ..named(&seen, groups, &candidates, f.set, &f.rivals, rate(f.inside) < rate(f.outside))
        })
        .collect();
    Searched { found, tried }
}

/// Turns a candidate set back into groups. `less` says that the set shows less than its complement: then, where the
/// complement is a group too, that one is named.
fn named(
    seen: &Seen,
    groups: &[&Group],
    candidates: &Candidates,
    set: usize,
    rivals: &[usize],
    less: bool,
) -> FoundGroup {
    let set = &candidates.sets()[set];
    let first = |of: &[usize]| of.iter().copied().min_by_key(|&g| (groups[g].key, g));
    let (here, there) = (first(&set.same), first(&set.complement));
    let same_string = |g: Option<usize>| g.is_some_and(|g| groups[g].key == GroupKey::SameString);
    let flip = there.is_some() && !same_string(there) && (same_string(here) || less);
    let (chosen, other) = if flip { (there, here) } else { (here, there) };
    let inside = |k: &usize| set.notes.binary_search(k).is_ok() != flip;
    let members = (0..seen.notes.len()).filter(inside).map(|k| seen.notes[k]).collect();
    let of_rival = |r: &usize| {
        let s = &candidates.sets()[*r];
        s.same.first().or(s.complement.first()).map(|&g| groups[g].key)
    };
    let aliases = if flip { &set.complement } else { &set.same };
    let mut or_also: Vec<GroupKey> = aliases.iter().filter(|g| Some(**g) != chosen).map(|&g| groups[g].key).collect();
    or_also.extend(rivals.iter().filter_map(of_rival));
    // A set always has a group that names it.
    let group = chosen.map(|g| groups[g]);
    FoundGroup {
        key: group.map_or(GroupKey::AllNotes, |g| g.key),
        label: group.map_or_else(String::new, |g| g.label.clone()),
        members,
        against: other.map(|g| groups[g].label.clone()),
        p_adjusted: 1.0,
        mean: false,
        spread: None,
        places: PlaceCheck { inside: 0, outside: 0, p: None, holds: false },
        or_also,
    }
}

/// Bias of each found group (ms) by the joint fit of all of them, against the notes in none of them; with fewer than 8
/// such notes, or where the fit has no answer, against all notes outside the group. `None` where that fails too.
pub(crate) fn effects(basis: &Basis, found: &[FoundGroup], seed: u64) -> Vec<Option<Estimate>> {
    let timed: Vec<usize> = (0..basis.local.len()).filter(|&i| basis.local[i].is_some()).collect();
    let values: Vec<f64> = timed.iter().filter_map(|&i| basis.local[i]).collect();
    let shifted: Vec<&FoundGroup> = found.iter().filter(|f| f.mean).take(8).collect();
    let mask = |i: &usize| {
        let has = |(k, f): (usize, &&FoundGroup)| u8::from(f.has(*i)) << k;
        shifted.iter().enumerate().map(has).fold(0, |a, b| a | b)
    };
    let masks: Vec<u8> = timed.iter().map(mask).collect();
    let in_none = outside_all(basis, found);
    let joint = (in_none.len() >= LEAST_FOR_ESTIMATES)
        .then(|| joint_effects(Sample::new(&values).ok()?, &masks, shifted.len()).ok()?)
        .flatten();
    found
        .iter()
        .map(|f| {
            let k = shifted.iter().position(|s| s.key == f.key);
            let (Some(joint), Some(k)) = (&joint, k) else {
                let outside: Vec<usize> = timed.iter().copied().filter(|i| !f.has(*i)).collect();
                return f.mean.then(|| interval(basis, basis.local, &f.members, &outside, seed)).flatten();
            };
            let mut partial = vec![None; basis.local.len()];
            for ((&i, mask), v) in timed.iter().zip(&masks).zip(&values) {
                let others = joint.iter().enumerate().filter(|(h, _)| *h != k && mask & (1 << *h) != 0);
                partial[i] = Some(v - others.map(|(_, e)| e).sum::<f64>());
            }
            let around = interval(basis, &partial, &f.members, &in_none, seed)?;
            let shift = joint[k] - around.value;
            let interval =
                takegauge_stats::Interval { low: around.interval.low + shift, high: around.interval.high + shift };
            Some(Estimate { value: joint[k], interval, n: f.members.len() })
        })
        .collect()
}

/// Timed notes in no found group.
pub(crate) fn outside_all(basis: &Basis, found: &[FoundGroup]) -> Vec<usize> {
    let outside = |i: &usize| !found.iter().any(|f| f.has(*i));
    (0..basis.local.len()).filter(|&i| basis.local[i].is_some()).filter(outside).collect()
}

/// Difference of trimmed means with its interval over resampled repeats, or Yuen's with few repeats.
fn interval(basis: &Basis, values: &[Option<f64>], members: &[usize], others: &[usize], seed: u64) -> Option<Estimate> {
    let plain = difference(values, members, others)?;
    let both: Vec<(f64, usize, bool)> = members
        .iter()
        .map(|&i| (i, true))
        .chain(others.iter().map(|&i| (i, false)))
        .filter_map(|(i, inside)| Some((values[i]?, basis.notes[i].block, inside)))
        .collect();
    let clusters: Vec<usize> = both.iter().map(|b| b.1).collect();
    let blocks = clusters.iter().collect::<std::collections::BTreeSet<_>>().len();
    if blocks < LEAST_BLOCKS || both.len() > MOST_RESAMPLED {
        return Some(plain);
    }
    let plan = bootstrap::Plan { resamples: RESAMPLES, seed, confidence: CONFIDENCE };
    let statistic = |drawn: &[usize]| {
        let side = |inside: bool| -> Option<f64> {
            let v: Vec<f64> = drawn.iter().filter(|&&k| both[k].2 == inside).map(|&k| both[k].0).collect();
            Some(robust::trimmed_mean(Sample::new(&v).ok()?, TRIM).ok()?.value)
        };
        Some(side(true)? - side(false)?)
    };
    Some(bootstrap::by_cluster(&clusters, plan, statistic).unwrap_or(plain))
}
