//! The drill's grid folded into the stretch that comes round again, so that a take of any number of repeats is
//! searched at the cost of one.
//!
//! Times are seconds of the drill's own tempo, counted from the start of the stretch.

use takegauge_drill::{Drill, GridNote};
use takegauge_stats::robust::upper_median;
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
        let usual_gap = upper_median(slots.iter().map(|s| s.gap))?;
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

#[cfg(test)]
mod tests {
    use super::*;

    fn drill(line: &str, repeats: u32, more: &str) -> Drill {
        let head =
            "name = \"t\"\ntempo_bpm = 120\nsteps_per_beat = 4\nbeats_per_bar = 4\ntuning = \"E2 A2 D3 G3 B3 E4\"";
        let rest =
            format!("picking = \"alternate\"\nfirst_stroke = \"down\"\nrepeats = {repeats}\n{more}\nline = \"{line}\"");
        Drill::parse(&format!("{head}\n{rest}\n"), "t").unwrap()
    }

    #[test]
    fn repeats_fold_into_one_line() {
        let d = drill("6:3 6:5 - 5:3x", 7, "");
        let line = Line::fold(&d.grid(), &d).unwrap();
        assert_eq!((line.slots.len(), line.per_line, line.per_drill), (3, 3, 21));
        assert!((line.period - 0.5).abs() < 1e-9 && (line.at(10) - 3.0 * 0.5 - 0.125).abs() < 1e-9);
        assert!(line.keysets[line.slots[2].keyset].is_empty(), "a dead note has no pitch");
        assert!((line.slots[1].gap - 0.25).abs() < 1e-9 && (line.slots[2].gap - 0.125).abs() < 1e-9);
    }

    #[test]
    fn swing_over_an_odd_line_comes_round_every_other_time() {
        let d = drill("6:3 6:5 5:3", 6, "swing = 66");
        let line = Line::fold(&d.grid(), &d).unwrap();
        assert_eq!((line.slots.len(), line.per_line), (6, 3));
        assert!(line.slots[3].opens && line.slots[2].closes);
        for (i, note) in d.grid().iter().enumerate() {
            assert!((line.at(i) - note.expected.0).abs() < 1e-9, "{i}");
        }
    }
}
