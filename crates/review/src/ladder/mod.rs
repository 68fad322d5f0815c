//! One drill at rising tempos: where each kind of note comes apart.
//!
//! A group's residuals are held against those of the notes on the same string at the same tempo, so that a tempo which
//! is harder for everything shows in no group. One hinge is shared by bias and spread, held against how much takes differ
//! anyway (`takegauge_stats::ladder`).

mod model;
mod remarks;
mod rungs;
mod search;

pub use model::*;

use std::collections::BTreeSet;
use takegauge_stats::ladder::LEAST_TEMPOS;
use takegauge_stats::{Sample, intervals, moments, robust};

use crate::caution;
use crate::estimates::{CONFIDENCE, LEAST_FOR_ESTIMATES};
use crate::group_key::GroupKey;
use crate::round::{milli, milli_or_zero};
use crate::scatter::{Scattered, spread_ends, spread_figure};
use crate::score::ScoreReport;
pub(crate) use rungs::{CLEAN_PCT, ONE_TEMPO};
use rungs::{Note, REFERENCE, Rung, has, reference, rungs, tempo_of};

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

/// Whether takes at these tempos are tempos enough to tell where a kind of note comes apart.
pub fn shows_hinges(tempos: impl Iterator<Item = f64>) -> bool {
    let mut tempos: Vec<f64> = tempos.collect();
    tempos.sort_by(f64::total_cmp);
    tempos.dedup_by(|higher, lower| *higher <= *lower * (1.0 + ONE_TEMPO));
    tempos.len() >= LEAST_TEMPOS
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
