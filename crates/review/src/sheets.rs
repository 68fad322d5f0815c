//! The tables of numbers of a report.

use crate::ladder::LadderReport;
use crate::score::{ChangeRow, GroupRow, NoteRow, ScoreReport};
use crate::sheet::Sheet;
use serde::Serialize;

/// A value of one of few kinds, as JSON writes it.
pub(crate) fn word<T: Serialize>(value: T) -> Option<String> {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(s)) => Some(s),
        _ => None,
    }
}

/// One row a note.
pub(crate) fn notes(rows: &[NoteRow]) -> Sheet {
    Sheet::default()
        .with("pass", rows, |n| n.pass)
        .with("index", rows, |n| n.index)
        .with("repeat", rows, |n| n.repeat)
        .with("position", rows, |n| n.position)
        .with_some("status", rows, |n| word(n.status))
        .with("expected_s", rows, |n| n.expected_s)
        .with_some("played_s", rows, |n| n.played_s)
        .with_some("deviation_ms", rows, |n| n.deviation_ms)
        .with_some("local_deviation_ms", rows, |n| n.local_deviation_ms)
        .with_some("uncertainty_ms", rows, |n| n.uncertainty_ms)
        .with("string", rows, |n| n.string)
        .with("fret", rows, |n| n.fret)
        .with("midi", rows, |n| n.midi)
        .with_some("heard_midi", rows, |n| n.heard_midi)
        .with_some("stroke", rows, |n| word(n.stroke))
        .with("stroke_sure", rows, |n| n.stroke_sure)
        .with_some("change_from", rows, |n| n.change.as_ref().map(|c| c.from))
        .with_some("change_to", rows, |n| n.change.as_ref().map(|c| c.to))
        .with_some("change_kind", rows, |n| word(n.change.as_ref()?.kind))
        .with_some("leaves_on", rows, |n| word(n.change.as_ref()?.leaves_on))
        .with_some("adjacent", rows, |n| n.change.as_ref().map(|c| c.adjacent))
        .with_some("after_gap", rows, |n| n.change.as_ref().map(|c| c.after_gap))
        .with_some("level_db", rows, |n| n.level_db)
        .with_some("smear_ms", rows, |n| n.smear_ms)
        .with_some("smear_withheld", rows, |n| n.smear_withheld.clone())
}

impl ScoreReport {
    /// One row a note, pass by pass.
    pub fn note_sheet(&self) -> Sheet {
        notes(&self.notes)
    }

    /// One row a group of notes.
    pub fn group_sheet(&self) -> Sheet {
        let rows: &[GroupRow] = &self.groups;
        Sheet::default()
            .with("group", rows, |g| g.group.to_string())
            .with("label", rows, |g| g.label.clone())
            .with_figures(rows, |g| &g.figures)
            .with_some("withheld", rows, |g| g.withheld.clone())
    }

    /// One row a pair of strings and kind of change.
    pub fn change_sheet(&self) -> Sheet {
        let rows: &[ChangeRow] = &self.changes;
        Sheet::default()
            .with("from", rows, |c| c.from)
            .with("to", rows, |c| c.to)
            .with_some("kind", rows, |c| word(c.kind))
            .with_some("leaves_on", rows, |c| word(c.leaves_on))
            .with("adjacent", rows, |c| c.adjacent)
            .with_figures(rows, |c| &c.row.figures)
            .with_some("withheld", rows, |c| c.row.withheld.clone())
    }
}

impl LadderReport {
    /// One row a group and tempo.
    pub fn sheet(&self) -> Sheet {
        let rows: Vec<_> = self.groups.iter().flat_map(|g| g.by_tempo.iter().map(move |t| (g, t))).collect();
        Sheet::default()
            .with("group", &rows, |(g, _)| g.group.to_string())
            .with("tempo_bpm", &rows, |(_, t)| t.tempo_bpm)
            .with("n", &rows, |(_, t)| t.n)
            .with_some("bias_ms", &rows, |(_, t)| t.bias_ms)
            .with_some("spread_ms", &rows, |(_, t)| t.spread_ms)
            .with("errors", &rows, |(_, t)| t.errors)
            .with_some("smear_ms", &rows, |(_, t)| t.smear_ms)
            .with_some("comes_apart_bpm", &rows, |(g, _)| g.comes_apart_bpm)
            .with_some("comes_apart_low_bpm", &rows, |(g, _)| g.comes_apart_ci95_bpm.map(|c| c[0]))
            .with_some("comes_apart_high_bpm", &rows, |(g, _)| g.comes_apart_ci95_bpm.map(|c| c[1]))
            .with_some("withheld", &rows, |(g, _)| g.withheld.clone())
            .with_some("spread_low_ms", &rows, |(_, t)| t.spread_ci95_ms.and_then(|c| c[0]))
            .with_some("spread_high_ms", &rows, |(_, t)| t.spread_ci95_ms.and_then(|c| c[1]))
    }
}
