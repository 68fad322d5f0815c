//! The takes of a ladder, tempo by tempo, and the notes that enter.

use std::collections::BTreeSet;
use takegauge_align::Status;
use takegauge_stats::{Sample, robust};

use crate::estimates::middle;
use crate::group_key::GroupKey;
use crate::residuals::SLIP_MADS;
use crate::score::ScoreReport;

/// Takes whose tempos differ by no more than this share are one tempo.
pub(crate) const ONE_TEMPO: f64 = 0.015;

/// A tempo is clean while its error rate is surely below this, per cent.
pub(crate) const CLEAN_PCT: f64 = 5.0;

/// A note of any take, with the groups it enters.
pub(super) struct Note {
    /// Its deviation with drift taken off, ms; a slip is pulled in.
    pub(super) residual: Option<f64>,
    /// Its take, as an index into the takes given.
    pub(super) take: usize,
    /// The same as it was played.
    pub(super) played: Option<f64>,
    /// Its place in the line.
    pub(super) position: usize,
    /// Its take and place in the line as one number: a take's scatter is about the mean of a place in it.
    pub(super) place: usize,
    /// The detector's SD for it, ms.
    pub(super) detector_sd: f64,
    pub(super) groups: Vec<GroupKey>,
    /// Its stroke is the drill's only by assumption: a missed or extra note came before it.
    pub(super) unsure: bool,
    pub(super) error: bool,
    pub(super) smear: Option<f64>,
}

/// One tempo of the ladder.
pub(super) struct Rung {
    pub(super) tempo: f64,
    pub(super) takes: Vec<usize>,
    pub(super) notes: Vec<Note>,
}

pub(super) const REFERENCE: GroupKey = GroupKey::SameString;

pub(crate) fn tempo_of(take: &ScoreReport) -> f64 {
    take.timebase.tempo_bpm
}

pub(super) fn rungs(takes: &[ScoreReport]) -> Vec<Rung> {
    let mut order: Vec<usize> = (0..takes.len()).collect();
    order.sort_by(|&a, &b| tempo_of(&takes[a]).total_cmp(&tempo_of(&takes[b])).then(a.cmp(&b)));
    let mut rungs: Vec<Rung> = Vec::new();
    let steps = takes.iter().flat_map(|t| &t.notes).map(|n| n.position + 1).max().unwrap_or(1);
    for i in order {
        let played = notes(&takes[i], i, i * steps);
        let tempo = tempo_of(&takes[i]);
        match rungs.last_mut().filter(|r| tempo <= tempo_of(&takes[r.takes[0]]) * (1.0 + ONE_TEMPO)) {
            Some(rung) => {
                let n = rung.takes.len() as f64;
                rung.tempo = (rung.tempo * n + tempo) / (n + 1.0);
                rung.takes.push(i);
                rung.notes.extend(played);
            }
            None => rungs.push(Rung { tempo, takes: vec![i], notes: played }),
        }
    }
    rungs
}

/// The picked notes reached of a take; slips are pulled in. Its places are counted from `first_place` on.
fn notes(take: &ScoreReport, index: usize, first_place: usize) -> Vec<Note> {
    let reached: Vec<&crate::NoteRow> = take
        .notes
        .iter()
        .filter(|n| !matches!(n.status, Status::NotReached | Status::NotJudged) && !n.groups.is_empty())
        .collect();
    let residuals = pulled_in(&reached);
    let extra_after: BTreeSet<(usize, Option<usize>)> = take.extra.iter().map(|x| (x.pass, x.after_index)).collect();
    reached
        .iter()
        .zip(residuals)
        .map(|(n, residual)| Note {
            residual,
            take: index,
            played: n.local_deviation_ms,
            position: n.position,
            place: first_place + n.position,
            detector_sd: n.uncertainty_ms.unwrap_or(take.summary.detector_sd_ms),
            groups: groups_of(take, n),
            unsure: !n.stroke_sure,
            error: n.status != Status::Played || extra_after.contains(&(n.pass, n.index.checked_sub(1))),
            smear: n.smear_ms,
        })
        .collect()
}

/// Deviations with slips pulled in to 4 MAD of their own kind of change, which is never taken to be narrower than the
/// whole take: a kind that comes apart is wide as a whole, and is no slip.
fn pulled_in(notes: &[&crate::NoteRow]) -> Vec<Option<f64>> {
    let width = |v: &[f64]| Sample::new(v).map_or(0.0, robust::mad_sd);
    let all: Vec<f64> = notes.iter().filter_map(|n| n.local_deviation_ms).collect();
    let least = width(&all);
    let kind = |n: &crate::NoteRow| n.change.and_then(|c| c.kind);
    let mut reach = std::collections::BTreeMap::new();
    for k in notes.iter().map(|n| kind(n)) {
        reach.entry(k).or_insert_with(|| {
            let own: Vec<f64> = notes.iter().filter(|n| kind(n) == k).filter_map(|n| n.local_deviation_ms).collect();
            let (middle, wide) = (middle(&own), width(&own).max(least));
            (middle - SLIP_MADS * wide, middle + SLIP_MADS * wide)
        });
    }
    let pull = |n: &&crate::NoteRow| {
        let (low, high) = reach.get(&kind(n)).copied().filter(|(a, b)| a < b)?;
        n.local_deviation_ms.map(|v| v.clamp(low, high))
    };
    notes.iter().map(|n| pull(n).or(n.local_deviation_ms)).collect()
}

/// The groups a note enters; under the drill's stroke even where it was left out after a slip, or comes in a pass begun on
/// another stroke: mistakes gather at the fastest tempos, and without what follows them the top of the ladder would say
/// nothing. How many there are is told.
fn groups_of(take: &ScoreReport, n: &crate::NoteRow) -> Vec<GroupKey> {
    let mut groups: Vec<GroupKey> = n.groups.iter().filter_map(|&g| take.groups.get(g)).map(|g| g.group).collect();
    if n.stroke_sure {
        return groups;
    }
    let change = n.change.filter(|_| groups.contains(&GroupKey::Change));
    let kind = change.and_then(|c| c.kind).map(GroupKey::Kind);
    let leaves_on = change.and_then(|c| c.leaves_on).map(GroupKey::LeavesOn);
    for key in kind.into_iter().chain(leaves_on).chain(n.stroke.map(GroupKey::Stroke)) {
        if !groups.contains(&key) {
            groups.push(key);
        }
    }
    groups
}

pub(super) fn residuals(rung: &Rung, inside: impl Fn(&Note) -> bool) -> Vec<f64> {
    rung.notes.iter().filter(|n| inside(n)).filter_map(|n| n.residual).collect()
}

pub(super) fn has(note: &Note, group: GroupKey) -> bool {
    note.groups.contains(&group)
}

/// What a group is held against: the notes on the same string, or all others where the line has none.
pub(super) fn reference(rung: &Rung, group: GroupKey) -> Vec<f64> {
    let same = residuals(rung, |n| has(n, REFERENCE) && !has(n, group));
    if same.len() >= 2 { same } else { residuals(rung, |n| !has(n, group)) }
}
