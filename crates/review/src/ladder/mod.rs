//! One drill at rising tempos: where each kind of note comes apart.
//!
//! A group's residuals are held against those of the notes on the same string at the same tempo, so that a tempo which
//! is harder for everything shows in no group. One hinge is shared by bias and spread, held against how much takes differ
//! anyway (`takegauge_stats::ladder`).

mod model;
mod remarks;
mod search;

pub use model::*;

use std::collections::BTreeSet;
use takegauge_stats::{Sample, intervals, moments, robust};

use crate::caution;
use crate::figures::{CONFIDENCE, LEAST_FOR_ESTIMATES};
use crate::group_key::GroupKey;
use crate::residuals::SLIP_MADS;
use crate::round::{milli, milli_or_zero};
use crate::scatter::{Scattered, spread_ends, spread_figure};
use crate::score::ScoreReport;
use takegauge_align::Status;

/// Takes whose tempos differ by no more than this share are one tempo.
const ONE_TEMPO: f64 = 0.015;

/// A tempo is clean while its error rate is surely below this, per cent.
const CLEAN_PCT: f64 = 5.0;

/// A note of any take, with the groups it enters.
struct Note {
    /// Its deviation with drift taken off, ms; a slip is pulled in.
    residual: Option<f64>,
    /// Its take, as an index into the takes given.
    take: usize,
    /// The same as it was played.
    played: Option<f64>,
    /// Its place in the line.
    position: usize,
    /// Its take and place in the line as one number: a take's scatter is about the mean of a place in it.
    place: usize,
    /// The detector's SD for it, ms.
    detector_sd: f64,
    groups: Vec<GroupKey>,
    /// Its stroke is the drill's only by assumption: a missed or extra note came before it.
    unsure: bool,
    error: bool,
    smear: Option<f64>,
}

/// One tempo of the ladder.
struct Rung {
    tempo: f64,
    takes: Vec<usize>,
    notes: Vec<Note>,
}

/// The ladder of `takes`, in the order they were played.
///
/// # Errors
/// [`SeveralError`]: no take, or takes of different lines.
pub fn ladder(takes: &[ScoreReport], seed: u64) -> Result<LadderReport, SeveralError> {
    one_drill(takes.iter())?;
    let rungs = rungs(takes);
    let rows = group_rows(takes, &rungs, seed);
    let tempos: Vec<LadderTempo> = rungs.iter().map(|r| tempo_row(r, takes)).collect();
    let under = |t: &&LadderTempo| t.at_most_in_100.is_some_and(|p| p < CLEAN_PCT);
    let clean_up_to_bpm = tempos.iter().rev().find(under).map(|t| t.tempo_bpm);
    let remarks = remarks::remarks(takes, &tempos, &rows, clean_up_to_bpm);
    let headline = remarks.first().cloned().unwrap_or_default();
    Ok(LadderReport {
        schema: LADDER_SCHEMA.into(),
        drill: takes.first().map_or_else(String::new, |t| t.drill.name.clone()),
        takes: takes.iter().map(take_row).collect(),
        tempos,
        groups: rows,
        clean_up_to_bpm,
        headline,
        remarks,
        cautions: vec![caution().to_owned()],
    })
}

/// All takes play the same line: the same steps on the same strings and frets. Tempo and number of repeats may differ.
pub(crate) fn one_drill<'a>(mut takes: impl Iterator<Item = &'a ScoreReport>) -> Result<(), SeveralError> {
    let line = |t: &ScoreReport| -> BTreeSet<(usize, u8, u8)> {
        t.notes.iter().filter(|n| n.repeat == 0).map(|n| (n.position, n.string, n.fret)).collect()
    };
    let first = line(takes.next().ok_or(SeveralError::NoTake)?);
    match takes.find(|t| line(t) != first) {
        Some(other) => Err(SeveralError::OtherDrill { path: other.take.path.clone() }),
        None => Ok(()),
    }
}

pub(crate) fn tempo_of(take: &ScoreReport) -> f64 {
    take.timebase.tempo_bpm
}

fn at_most(errors: usize, notes: usize) -> Option<f64> {
    intervals::rate_upper_limit(errors.min(notes), notes, CONFIDENCE).ok().and_then(|r| milli(100.0 * r))
}

fn take_row(take: &ScoreReport) -> LadderTake {
    let r = &take.reliability;
    LadderTake {
        path: take.take.path.clone(),
        tempo_bpm: milli_or_zero(tempo_of(take)),
        notes_a_second: take.summary.notes_a_second,
        clean: at_most(r.errors, r.notes).is_some_and(|p| p < CLEAN_PCT),
        notes: r.notes,
        errors: r.errors,
        spread_ms: take.summary.spread_ms.value,
    }
}

fn rungs(takes: &[ScoreReport]) -> Vec<Rung> {
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
            let (middle, wide) = (Sample::new(&own).map_or(0.0, robust::median), width(&own).max(least));
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

fn tempo_row(rung: &Rung, takes: &[ScoreReport]) -> LadderTempo {
    let sum = |f: fn(&ScoreReport) -> usize| rung.takes.iter().map(|&i| f(&takes[i])).sum::<usize>();
    let (notes, errors) = (sum(|t| t.reliability.notes), sum(|t| t.reliability.errors));
    LadderTempo {
        tempo_bpm: milli_or_zero(rung.tempo),
        takes: rung.takes.len(),
        notes,
        errors,
        at_most_in_100: at_most(errors, notes),
    }
}

/// Groups that a ladder speaks of: the same string, changes of all kinds, strokes.
fn of_ladder(group: GroupKey) -> bool {
    group.is_change() || matches!(group, GroupKey::SameString | GroupKey::Stroke(_))
}

const REFERENCE: GroupKey = GroupKey::SameString;

fn group_rows(takes: &[ScoreReport], rungs: &[Rung], seed: u64) -> Vec<LadderGroupRow> {
    let mut rows: Vec<LadderGroupRow> = Vec::new();
    for g in takes.iter().flat_map(|t| &t.groups).filter(|g| of_ladder(g.group)) {
        if rows.iter().all(|r| r.group != g.group) {
            rows.push(LadderGroupRow {
                group: g.group,
                label: g.label.clone(),
                by_tempo: rungs.iter().map(|r| at_tempo(r, g.group)).collect(),
                comes_apart_bpm: None,
                comes_apart_ci95_bpm: None,
                measure: ComesApart::BiasAndSpread,
                p_adjusted: None,
                spread_at_top: None,
                bracketed: None,
                late_at_top_ms: None,
                later_by_ms: None,
                later_by_ci95_ms: None,
                at_once: false,
                or_also: Vec::new(),
                could_show_late_ms: None,
                late_throughout_ms: None,
                late_throughout_ci95_ms: None,
                mistakes: None,
                ringing: None,
                withheld: None,
            });
        }
    }
    search::seek(&mut rows, rungs, seed);
    rows
}

fn residuals(rung: &Rung, inside: impl Fn(&Note) -> bool) -> Vec<f64> {
    rung.notes.iter().filter(|n| inside(n)).filter_map(|n| n.residual).collect()
}

fn has(note: &Note, group: GroupKey) -> bool {
    note.groups.contains(&group)
}

/// What a group is held against: the notes on the same string, or all others where the line has none.
fn reference(rung: &Rung, group: GroupKey) -> Vec<f64> {
    let same = residuals(rung, |n| has(n, REFERENCE) && !has(n, group));
    if same.len() >= 2 { same } else { residuals(rung, |n| !has(n, group)) }
}

fn at_tempo(rung: &Rung, group: GroupKey) -> AtTempo {
    let members: Vec<&Note> = rung.notes.iter().filter(|n| has(n, group)).collect();
    let values: Vec<f64> = members.iter().filter_map(|n| n.residual).collect();
    let smear: Vec<f64> = members.iter().filter_map(|n| n.smear).collect();
    let others = reference(rung, group);
    let mean = |v: &[f64]| Sample::at_least(v, 3).ok().map(moments::mean);
    let mut scattered = Scattered::default();
    for n in &members {
        if let Some(ms) = n.played {
            scattered.push(ms, n.place, n.detector_sd);
        }
    }
    let scatter = if values.len() >= LEAST_FOR_ESTIMATES { scattered.scatter() } else { None };
    AtTempo {
        tempo_bpm: milli_or_zero(rung.tempo),
        n: values.len(),
        spread_ms: scatter.as_ref().and_then(|s| spread_figure(Some(s)).value),
        spread_ci95_ms: spread_ends(scatter.as_ref()),
        bias_ms: mean(&values).zip(mean(&others)).filter(|_| group != REFERENCE).and_then(|(a, b)| milli(a - b)),
        unsure: if group.speaks_of_strokes() { members.iter().filter(|n| n.unsure).count() } else { 0 },
        errors: members.iter().filter(|n| n.error).count(),
        smear_ms: Sample::at_least(&smear, 3).ok().map(robust::median).and_then(milli),
    }
}
