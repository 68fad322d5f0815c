//! What one take adds to a history: the figures of one group of its notes.

use crate::{GroupKey, GroupRow, ScoreReport};
use serde::{Deserialize, Serialize};

/// The figures of a group of notes in one take; fields as in [`GroupRow`].
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct GroupFigures {
    /// Notes with a time.
    pub n: usize,
    /// Early (-) or late (+) on average, ms.
    pub bias_ms: Option<f64>,
    /// Its 95 % interval.
    pub bias_ci95_ms: Option<[f64; 2]>,
    /// Scatter within places, ms.
    pub spread_ms: Option<f64>,
    /// Its 95 % interval; the lower end is `None` where it reaches 0.
    pub spread_ci95_ms: Option<[Option<f64>; 2]>,
    /// Notes beyond 4 MAD.
    pub slips: usize,
    /// Notes reached.
    pub reached: usize,
    /// Not heard.
    pub missed: usize,
    /// At another pitch.
    pub wrong_pitch: usize,
    /// Extra attacks.
    pub extra: usize,
    /// Median ringing over, ms.
    pub smear_ms: Option<f64>,
    /// Notes behind it.
    pub smear_n: usize,
    /// SD of intervals, ms.
    pub evenness_ms: Option<f64>,
    /// (limit - |bias|) / spread.
    pub margin: Option<f64>,
    /// Its standard error.
    pub margin_se: Option<f64>,
    /// A quarter of the shorter neighbouring note distance, ms.
    pub limit_ms: Option<f64>,
}

impl GroupFigures {
    /// Missed, wrong and extra together.
    pub fn errors(&self) -> usize {
        self.missed + self.wrong_pitch + self.extra
    }
}

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
    /// The group's figures.
    pub figures: GroupFigures,
}

/// A report's groups with their names and labels, the whole take first.
pub fn figures_of(report: &ScoreReport) -> Vec<(GroupKey, String, GroupFigures)> {
    let s = &report.summary;
    let mut smears: Vec<f64> = report.notes.iter().filter_map(|n| n.smear_ms).collect();
    smears.sort_by(f64::total_cmp);
    let whole = GroupFigures {
        n: s.spread_ms.n,
        spread_ms: s.spread_ms.value,
        spread_ci95_ms: match (s.spread_ms.ci95, s.spread_ms.below) {
            (Some([low, high]), _) => Some([Some(low), Some(high)]),
            (None, below) => below.map(|limit| [None, Some(limit)]),
        },
        reached: s.notes_reached,
        missed: s.missed,
        wrong_pitch: s.wrong_pitch,
        extra: s.extra,
        smear_ms: middle(&smears),
        smear_n: smears.len(),
        evenness_ms: s.ioi_sd_ms.value,
        slips: s.slips,
        ..GroupFigures::default()
    };
    let rows = report.groups.iter().map(|g| (g.group, g.label.clone(), GroupFigures::from(g)));
    std::iter::once((GroupKey::WholeTake, "all notes of the take".to_owned(), whole)).chain(rows).collect()
}

/// Median of sorted values.
pub(crate) fn middle(sorted: &[f64]) -> Option<f64> {
    let n = sorted.len();
    (n > 0).then(|| 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]))
}

impl From<&GroupRow> for GroupFigures {
    fn from(g: &GroupRow) -> Self {
        Self {
            n: g.n,
            bias_ms: g.bias_ms,
            bias_ci95_ms: g.bias_ci95_ms,
            spread_ms: g.spread_ms,
            spread_ci95_ms: g.spread_ci95_ms,
            slips: g.slips,
            reached: g.reached,
            missed: g.missed,
            wrong_pitch: g.wrong_pitch,
            extra: g.extra,
            smear_ms: g.smear_ms,
            smear_n: g.smear_n,
            evenness_ms: g.evenness_ms,
            margin: g.margin,
            margin_se: g.margin_se,
            limit_ms: g.limit_ms,
        }
    }
}
