//! The drill's grid folded into the stretch that comes round again, so that a take of any number of repeats is
//! searched at the cost of one.
//!
//! Times are seconds of the drill's own tempo, counted from the start of the stretch.

use takegauge_drill::{Drill, GridNote};
use takegauge_units::MidiKey;

/// One note of the folded grid.
#[derive(Debug, Clone)]
pub(crate) struct Slot {
    /// Drill seconds from the start of the stretch.
    pub(crate) at: f64,
    /// Drill seconds to the next slot, round the end.
    pub(crate) gap: f64,
    /// Index into [`Line::keysets`].
    pub(crate) keyset: usize,
    /// Struck by the pick (else legato).
    pub(crate) picked: bool,
    /// First note of the line.
    pub(crate) opens: bool,
    /// Last note of the line.
    pub(crate) closes: bool,
}

/// The grid folded: slots that come round every `period` drill seconds.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    pub(crate) slots: Vec<Slot>,
    /// Different sets of keys in the line, each sorted; empty for a dead note, which has no pitch to check.
    pub(crate) keysets: Vec<Vec<MidiKey>>,
    /// Drill seconds of one turn.
    pub(crate) period: f64,
    /// Notes of one line.
    pub(crate) per_line: usize,
    /// Notes of the whole drill, all repeats.
    pub(crate) per_drill: usize,
    /// The most usual distance of two notes, drill seconds.
    pub(crate) usual_gap: f64,
}

/// Drill seconds below which two grid times count as one; the grid is made of fractions of beats.
const SAME: f64 = 1e-6;

impl Line {
    /// `None` where no note is picked or times do not rise.
    pub(crate) fn fold(grid: &[GridNote], drill: &Drill) -> Option<Self> {
        let first = grid.first()?;
        if !grid.iter().any(GridNote::picked) {
            return None;
        }
        let per_line = grid.iter().take_while(|n| n.repeat == first.repeat).count();
        let repeats = grid.len().div_ceil(per_line.max(1));
        let lines = (1..repeats).find(|k| comes_round(grid, k * per_line)).unwrap_or(repeats);
        let count = (lines * per_line).min(grid.len());
        let step = drill.tempo.beat().0 / f64::from(drill.steps_per_beat.max(1));
        let period = match grid.get(count) {
            Some(again) => again.expected.0 - first.expected.0,
            None => step * (drill.line.len() * lines) as f64,
        };
        let mut keysets: Vec<Vec<MidiKey>> = Vec::new();
        let mut slots = Vec::with_capacity(count);
        for (i, note) in grid[..count].iter().enumerate() {
            let next = grid.get(i + 1).filter(|_| i + 1 < count).map_or(first.expected.0 + period, |n| n.expected.0);
            let mut keys = if note.dead { Vec::new() } else { note.keys.clone() };
            keys.sort_unstable();
            keys.dedup();
            let keyset = keysets.iter().position(|k| *k == keys).unwrap_or_else(|| {
                keysets.push(keys);
                keysets.len() - 1
            });
            let gap = next - note.expected.0;
            if !gap.is_finite() || gap < 0.0 {
                return None;
            }
            slots.push(Slot {
                at: note.expected.0 - first.expected.0,
                gap: gap.max(SAME),
                keyset,
                picked: note.picked(),
                opens: i % per_line == 0,
                closes: (i + 1) % per_line == 0 || i + 1 == count,
            });
        }
        let mut gaps: Vec<f64> = slots.iter().map(|s| s.gap).collect();
        gaps.sort_by(f64::total_cmp);
        let usual_gap = gaps[gaps.len() / 2];
        Some(Self { slots, keysets, period: period.max(SAME), per_line, per_drill: grid.len(), usual_gap })
    }

    /// The slot of an unwrapped note number.
    pub(crate) fn slot(&self, note: usize) -> &Slot {
        &self.slots[note % self.slots.len()]
    }

    /// Drill seconds of an unwrapped note number, turns counted.
    pub(crate) fn at(&self, note: usize) -> f64 {
        self.slot(note).at + (note / self.slots.len()) as f64 * self.period
    }
}

/// Whether the grid from note `shift` on is the grid again, only later.
fn comes_round(grid: &[GridNote], shift: usize) -> bool {
    let Some(again) = grid.get(shift) else { return false };
    let later = again.expected.0 - grid[0].expected.0;
    grid.iter().zip(&grid[shift..]).all(|(a, b)| {
        (b.expected.0 - a.expected.0 - later).abs() < SAME
            && a.keys == b.keys
            && a.sounding == b.sounding
            && a.dead == b.dead
    })
}
