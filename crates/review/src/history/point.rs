//! What one take adds to a history: the figures of one group of its notes.

use crate::declared::{EVENNESS, EXTRA, MISSED, N, PLACES, REACHED, SLIPS, SMEAR, SMEAR_N, SPREAD, WRONG_PITCH};
use crate::{Figures, GroupKey, ScoreReport, Value};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use takegauge_stats::{Sample, robust};

/// One take in a history: one group of its notes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TakePoint {
    /// The take's number in the journal.
    pub take: i64,
    /// The player's local day, from 1970-01-01.
    pub day: i32,
    /// The same, as the calendar writes it: 2026-03-01.
    pub date: String,
    /// Quarter notes a minute, as played.
    pub tempo_bpm: f64,
    /// Kept as the best of several tries, so better than the player usually is; `None` where nobody said.
    pub picked_best: Option<bool>,
    /// Errors of the whole take, whatever the group.
    pub take_errors: usize,
    /// Notes reached of the whole take.
    pub take_notes: usize,
    /// The group's figures; from the journal those alone that a history looks at.
    pub figures: Figures,
}

/// The figures of a whole take, as far as a report tells them of it.
pub fn whole_take(report: &ScoreReport) -> Figures {
    let s = &report.summary;
    let smears: Vec<f64> = report.notes.iter().filter_map(|n| n.smear_ms).collect();
    let spread = &s.spread_ms;
    let ends = spread.ci95.map_or([None, spread.below], |ci| ci.map(Some));
    let places: BTreeSet<usize> =
        report.notes.iter().filter(|n| n.local_deviation_ms.is_some()).map(|n| n.position).collect();
    let counts = [
        (&N, spread.n),
        (&PLACES, places.len()),
        (&SLIPS, s.slips),
        (&REACHED, s.notes_reached),
        (&MISSED, s.missed),
        (&WRONG_PITCH, s.wrong_pitch),
        (&EXTRA, s.extra),
        (&SMEAR_N, smears.len()),
    ];
    let figures = Figures::default()
        .with(&SPREAD, Value::number(spread.value).within(ends))
        .with(&SMEAR, Value::number(middle(&smears)))
        .with(&EVENNESS, Value::number(s.ioi_sd_ms.value));
    counts.into_iter().fold(figures, |all, (figure, n)| all.with(figure, Value::count(n)))
}

/// A report's groups with their keys and labels, the whole take first.
pub fn figures_of(report: &ScoreReport) -> impl Iterator<Item = (GroupKey, &str, Figures)> {
    let rows = report.groups.iter().map(|g| (g.group, g.label.as_str(), g.figures.clone()));
    std::iter::once((GroupKey::WholeTake, "all notes of the take", whole_take(report))).chain(rows)
}

/// The median; `None` of none.
pub(crate) fn middle(values: &[f64]) -> Option<f64> {
    Sample::new(values).ok().map(robust::median)
}
