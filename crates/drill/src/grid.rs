//! From the line to the note grid: every note of every repeat with its time, stroke and string change.

use crate::timing::Timing;
use crate::{AfterGap, Change, ChangeKind, Drill, GridNote, LineNote, Picking, Sounding, Step, Stroke};

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
pub(crate) fn notes_of(line: &[Step]) -> Vec<(usize, &LineNote)> {
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

/// Chooses strokes note by note as `picking` and `after_gap` say.
struct Hand<'a> {
    drill: &'a Drill,
    /// Once per so many ticks the hand changes direction (`after_gap = "hand"`).
    pulse: u64,
    /// The last picked note: its stroke, tick, single string.
    last: Option<(Stroke, u64, Option<u8>)>,
    /// A gap came since the last picked note.
    gap: bool,
    /// A rest or held step came since the last picked note.
    pause: bool,
}

impl<'a> Hand<'a> {
    fn new(drill: &'a Drill, timing: &Timing, line: &[(usize, &LineNote)]) -> Self {
        let picked: Vec<u64> = line
            .iter()
            .filter(|(_, n)| n.sounding == Sounding::Picked)
            .filter_map(|(p, _)| timing.starts.get(*p).copied())
            .collect();
        let within = picked.windows(2).map(|w| w[1] - w[0]);
        let seam = match (picked.first(), picked.last()) {
            (Some(first), Some(last)) if drill.repeats > 1 => first + timing.line_ticks() - last,
            _ => 0,
        };
        let pulse = within.fold(seam, greatest_common_divisor).max(1);
        Self { drill, pulse, last: None, gap: false, pause: false }
    }

    fn stroke(&mut self, note: &LineNote, tick: u64, distance: Option<usize>, after_gap: bool) -> Option<Stroke> {
        self.gap |= after_gap;
        self.pause |= distance.is_some_and(|d| d > 1);
        if note.sounding != Sounding::Picked {
            return None;
        }
        let string = match note.fingered.as_slice() {
            [one] => Some(one.string),
            _ => None,
        };
        let stroke = note.written_stroke.unwrap_or_else(|| self.unwritten(string, tick));
        self.last = Some((stroke, tick, string));
        self.gap = false;
        self.pause = false;
        Some(stroke)
    }

    fn unwritten(&self, string: Option<u8>, tick: u64) -> Stroke {
        let first = self.drill.first_stroke;
        let Some((before, then, left)) = self.last else {
            return if self.drill.picking == Picking::Down { Stroke::Down } else { first };
        };
        match (self.drill.picking, self.drill.after_gap) {
            (Picking::Down, _) => Stroke::Down,
            (_, AfterGap::Restart) if self.gap => first,
            (_, AfterGap::Hand) if self.pause => {
                if (tick - then) / self.pulse % 2 == 1 {
                    before.other()
                } else {
                    before
                }
            }
            (Picking::Economy, _) if sweeps(left, string, before) => before,
            _ => before.other(),
        }
    }
}

fn sweeps(left: Option<u8>, reached: Option<u8>, stroke: Stroke) -> bool {
    match (left, reached) {
        (Some(from), Some(to)) => from.abs_diff(to) == 1 && goes_toward(stroke, from, to),
        _ => false,
    }
}

/// Whether the stroke moves from one string toward the other: down is toward string 1.
fn goes_toward(stroke: Stroke, from: u8, to: u8) -> bool {
    (stroke == Stroke::Down) == (to < from)
}

pub(crate) fn greatest_common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
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
    match (leaving != arriving, goes_toward(leaving, from, to)) {
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
mod tests {
    use super::*;

    fn drill(line: &str, more: &str) -> Drill {
        let text = format!(
            "name = \"t\"\ntempo_bpm = 150\nsteps_per_beat = 4\ntuning = \"standard\"\nline = \"{line}\"\n{more}"
        );
        Drill::parse(&text, "t.toml").unwrap()
    }

    fn strokes(line: &str, more: &str) -> String {
        let sign = |s: Option<Stroke>| s.map_or('.', |s| if s == Stroke::Down { 'd' } else { 'u' });
        drill(line, more).grid().iter().map(|n| sign(n.stroke)).collect()
    }

    fn kinds(line: &str, more: &str) -> Vec<Option<ChangeKind>> {
        drill(line, more).grid().iter().filter_map(|n| n.change).map(|c| c.kind).collect()
    }

    /// All four cases of strict alternation (common practice, no source).
    #[test]
    fn outside_and_inside() {
        use ChangeKind::{Inside, Outside};
        assert_eq!(kinds("5:1d 4:1u", ""), [Some(Outside)]);
        assert_eq!(kinds("5:1u 4:1d", ""), [Some(Inside)]);
        assert_eq!(kinds("4:1u 5:1d", ""), [Some(Outside)]);
        assert_eq!(kinds("4:1d 5:1u", ""), [Some(Inside)]);
    }

    /// Equal strokes (common practice, no source).
    #[test]
    fn sweep_and_same_stroke() {
        use ChangeKind::{SameStroke, Sweep};
        assert_eq!(kinds("5:1d 4:1d 5:1d 3:1d", ""), [Some(Sweep), Some(SameStroke), Some(SameStroke)]);
        assert_eq!(kinds("4:1u 5:1u", ""), [Some(Sweep)]);
    }

    /// Runs of two leave on upstrokes only; four then three flip; one a string flips at every note
    /// (common practice, no source).
    #[test]
    fn leaving_strokes() {
        let leaves = |line: &str| -> String {
            let sign = |s: Option<Stroke>| s.map_or('.', |s| if s == Stroke::Down { 'd' } else { 'u' });
            drill(line, "").grid().iter().filter_map(|n| n.change).map(|c| sign(c.leaves_on)).collect()
        };
        assert_eq!(leaves("6:1 6:2 5:1 5:2 4:1 4:2 3:1 3:2"), "uuu");
        assert_eq!(leaves("6:1 6:2 6:3 6:4 5:1 5:2 5:3 4:1 4:2 4:3 4:4 3:1"), "udd");
        assert_eq!(leaves("3:1 2:1 1:1 2:1 3:1"), "dudu");
        assert_eq!(leaves("3:1 3:2h 2:1"), "d");
    }

    #[test]
    fn legato_takes_no_stroke_and_chords_no_kind() {
        assert_eq!(strokes("6:3 6:5h 6:7 6:5p 5:3", ""), "d.u.d");
        assert_eq!(kinds("6:3 6:5h 5:3", ""), [None]);
        assert_eq!(kinds("[6:3 5:5] 4:5", ""), [None]);
    }

    #[test]
    fn economy_sweeps_where_it_may() {
        assert_eq!(strokes("5:3 5:5 5:7 4:4 4:5 4:7", "picking = \"economy\""), "duddud");
        assert_eq!(strokes("5:3 5:5 4:4 4:5", "picking = \"economy\""), "dudu");
        assert_eq!(strokes("5:3 3:5", "picking = \"economy\""), "du");
        assert_eq!(strokes("5:3 3:5 2:1u", "picking = \"down\""), "ddu");
    }

    #[test]
    fn repeats_carry_the_strokes_on() {
        assert_eq!(strokes("6:3 6:5 5:3", "repeats = 2"), "dududu");
        let grid = drill("6:3 6:5 5:3", "repeats = 2").grid();
        let seam = grid[3].change.unwrap();
        assert_eq!((seam.from, seam.to, seam.leaves_on), (5, 6, Some(Stroke::Down)));
        assert_eq!(grid[3].in_run, (0, 2));
        assert_eq!(drill("6:1 6:2 5:1 6:3", "repeats = 2").grid()[4].in_run, (1, 3));
    }

    #[test]
    fn after_gap_rules_differ() {
        let line = "6:1 6:2 6:3 ~ 6:4 - - 6:5 6:6";
        assert_eq!(strokes(line, ""), "dududu");
        assert_eq!(strokes(line, "after_gap = \"hand\""), "duddud");
        assert_eq!(strokes(line, "after_gap = \"restart\""), "dudddu");
        let longer = "6:1 6:2 - 6:3 6:4";
        assert_eq!(strokes(longer, "after_gap = \"hand\""), "duud");
        assert_eq!(strokes(longer, "after_gap = \"restart\""), "dudu");
        // Eighths written as held sixteenths: the hand moves in eighths.
        assert_eq!(strokes("6:1 ~ 6:2 ~ 6:3 ~", "after_gap = \"hand\""), "dud");
        assert_eq!(strokes("6:1 ~ 6:2 ~ 6:3 ~", "after_gap = \"restart\""), "dud");
    }

    #[test]
    fn gaps_stand_against_the_usual_distance() {
        let gaps = |line: &str| -> Vec<bool> { drill(line, "").grid().iter().map(|n| n.after_gap).collect() };
        assert_eq!(gaps("6:1 5:1 - 6:1 5:1"), [false, false, true, false]);
        assert_eq!(gaps("6:1 ~ 5:1 ~ 6:1 ~ ~ 5:1"), [false, false, false, true]);
        assert!(drill("6:1 5:1 - 6:1 5:1", "").grid()[2].change.unwrap().after_gap);
    }

    #[test]
    fn times_with_and_without_swing() {
        let times = |more: &str| -> Vec<f64> {
            let grid = drill("6:1 ~ 6:3 6:4", more).grid();
            grid.iter().map(|n| (n.expected.0 * 1e6).round() / 1e6).collect()
        };
        assert_eq!(times("repeats = 2"), [0.0, 0.2, 0.3, 0.4, 0.6, 0.7]);
        // Two thirds of a pair of 200 ms.
        assert_eq!(times("swing = 60"), [0.0, 0.2, 0.32]);
        let grid = drill("6:1 ~ 6:3 6:4", "swing = 60").grid();
        assert!((grid[1].lasts.0 - 0.12).abs() < 1e-12);
        assert!((grid[2].lasts.0 - 0.08).abs() < 1e-12);
        assert!((grid[0].lasts.0 - 0.2).abs() < 1e-12);
    }

    #[test]
    fn mixed_subdivisions_and_eighth_beats() {
        let times = |line: &str, more: &str| -> Vec<f64> {
            let grid = drill(line, more).grid();
            grid.iter().map(|n| (n.expected.0 * 1e6).round() / 1e6).collect()
        };
        assert_eq!(times("6:1 ~ ~ ~ /2 6:1 6:2 /4 6:1 6:2", ""), [0.0, 0.4, 0.6, 0.8, 0.9]);
        assert_eq!(times("6:1 6:2 6:3", "beat_unit = 8"), [0.0, 0.05, 0.1]);
        // A pickup of one step is the second of its pair.
        assert_eq!(times("6:1 6:2 6:3 6:4", "pickup_steps = 1\nswing = 60"), [0.02, 0.1, 0.22, 0.3]);
    }

    #[test]
    fn pitches_count_the_capo() {
        let grid = drill("6:3 [5:2 4:2]", "capo = 2").grid();
        assert_eq!(grid[0].keys, [takegauge_units::MidiKey(45)]);
        assert_eq!(grid[1].keys.len(), 2);
    }
}
