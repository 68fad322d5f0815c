//! From the line to the note grid: every note of every repeat with its time, stroke and string change.

mod hand;

use crate::timing::Timing;
use crate::{Change, ChangeKind, Drill, GridNote, LineNote, Step, Stroke};
use hand::Hand;

impl Drill {
    /// What the drill asks for, note by note, in order over all repeats.
    pub fn grid(&self) -> Vec<GridNote> {
        let timing = Timing::of(self);
        let line = notes_of(&self.line);
        let usual = usual_distance(&line, self.line.len(), self.repeats);
        let mut hand = Hand::new(self, &timing, &line);
        let mut grid: Vec<GridNote> = Vec::with_capacity(line.len().saturating_mul(self.repeats as usize));
        let mut last_stroke_of_run: Option<Stroke> = None;
        for repeat in 0..self.repeats as usize {
            for (i, &(position, note)) in line.iter().enumerate() {
                let distance = distance_before(&line, i, self.line.len()).filter(|_| repeat + i > 0);
                let after_gap = distance.is_some_and(|d| d > usual);
                let stroke = hand.stroke(note, timing.tick(repeat, position), distance, after_gap);
                let previous = grid.last();
                let change = previous.and_then(|p| change_between(p, note, stroke, last_stroke_of_run, after_gap));
                if previous.is_none_or(|p| p.string() != first_string(note)) {
                    last_stroke_of_run = None;
                }
                last_stroke_of_run = stroke.or(last_stroke_of_run);
                let ends = position + 1 + held_after(&self.line, position);
                let expected = timing.seconds(repeat, position);
                grid.push(GridNote {
                    index: grid.len(),
                    repeat,
                    position,
                    expected,
                    fingered: note.fingered.clone(),
                    keys: note.fingered.iter().filter_map(|f| self.key_at(f.string, f.fret)).collect(),
                    sounding: note.sounding,
                    stroke,
                    change,
                    after_gap,
                    accent: note.accent,
                    dead: note.dead,
                    palm_muted: note.palm_muted,
                    way_back: note.way_back,
                    in_run: (0, 0),
                    lasts: timing.seconds(repeat, ends) - expected,
                });
            }
        }
        mark_runs(&mut grid);
        grid
    }
}

/// The notes of a line with their positions.
fn notes_of(line: &[Step]) -> Vec<(usize, &LineNote)> {
    line.iter()
        .enumerate()
        .filter_map(|(i, s)| match s {
            Step::Note(n) => Some((i, n)),
            _ => None,
        })
        .collect()
}

fn held_after(line: &[Step], position: usize) -> usize {
    line.iter().skip(position + 1).take_while(|s| **s == Step::Held).count()
}

fn first_string(note: &LineNote) -> u8 {
    note.fingered.first().map_or(1, |f| f.string)
}

/// Steps from the note before, over the seam for the line's first note; `None` for a line of one note at one step.
fn distance_before(line: &[(usize, &LineNote)], i: usize, steps: usize) -> Option<usize> {
    let here = line.get(i)?.0;
    match i.checked_sub(1) {
        Some(before) => Some(here - line.get(before)?.0),
        None => Some(here + steps - line.last()?.0),
    }
}

/// The line's usual distance between notes in steps: the most frequent one, the smaller of equals.
fn usual_distance(line: &[(usize, &LineNote)], steps: usize, repeats: u32) -> usize {
    let from = usize::from(repeats < 2);
    let mut distances: Vec<_> = (from..line.len()).filter_map(|i| distance_before(line, i, steps)).collect();
    distances.sort_unstable();
    let mut best = (0, 1);
    for run in distances.chunk_by(|a, b| a == b) {
        if let Some(distance) = run.first().filter(|_| run.len() > best.0) {
            best = (run.len(), *distance);
        }
    }
    best.1
}

/// The change from the note before, `None` on the same string.
fn change_between(
    before: &GridNote,
    note: &LineNote,
    stroke: Option<Stroke>,
    leaves_on: Option<Stroke>,
    after_gap: bool,
) -> Option<Change> {
    let (from, to) = (before.string(), first_string(note));
    if from == to {
        return None;
    }
    let adjacent = from.abs_diff(to) == 1;
    let single = before.fingered.len() == 1 && note.fingered.len() == 1;
    let kind = match (before.stroke, stroke) {
        (Some(leaving), Some(arriving)) if single => Some(kind_of(leaving, arriving, from, to)),
        _ => None,
    };
    Some(Change { from, to, kind, leaves_on, adjacent, after_gap })
}

/// What kind of change two strokes make between two strings (common practice in the trade, no single source).
pub fn kind_of(leaving: Stroke, arriving: Stroke, from: u8, to: u8) -> ChangeKind {
    match (leaving != arriving, leaving.goes_toward(from, to)) {
        (true, true) => ChangeKind::Outside,
        (true, false) => ChangeKind::Inside,
        (false, true) if from.abs_diff(to) == 1 => ChangeKind::Sweep,
        (false, _) => ChangeKind::SameStroke,
    }
}

/// Fills `in_run`: notes in a row on one string (or one chord), counting the picked ones.
fn mark_runs(grid: &mut [GridNote]) {
    for run in grid.chunk_by_mut(|a, b| match (a.fingered.as_slice(), b.fingered.as_slice()) {
        ([x], [y]) => x.string == y.string,
        (x, y) => x == y,
    }) {
        let picked = run.iter().filter(|n| n.picked()).count();
        let mut place = 0;
        for note in run {
            note.in_run = (saturated(place), saturated(picked));
            place += usize::from(note.picked());
        }
    }
}

fn saturated(n: usize) -> u16 {
    u16::try_from(n).unwrap_or(u16::MAX)
}

#[cfg(test)]
mod tests;
