//! A drill as plain text of at most 100 columns: strings, frets, strokes, changes, counts.

use crate::changes::{change_counts, how_often, kind_words, leaving, stroke_words};
use crate::timing::{TICKS, Timing};
use crate::{AfterGap, Change, ChangeKind, Drill, GridNote, LineNote, Picking, Sounding, Step, Stroke};
use std::fmt::Write as _;

/// Columns of text.
const WIDTH: usize = 100;
const LABEL: usize = 12;
const CELL: usize = 4;
/// What each mark of a drill file means.
pub const LEGEND: &str = "\
string:fret (string 1 is nearest the floor, fret 0 is open), d or u the stroke (down, up),
h hammer-on, p pull-off (both sound without a stroke), > accent, x dead note, m palm-muted,
r way back (not counted), [5:7 4:7] struck together, - a silent step, ~ the last note held,
| bar line, /3 from here 3 steps a beat
";

impl Drill {
    /// The drill as text for a terminal: what is played, with which strokes, and what the changes add up to.
    pub fn show(&self) -> String {
        let grid = self.grid();
        let mut t = self.heading(&grid);
        let once: Vec<&GridNote> = grid.iter().filter(|n| n.repeat == 0).collect();
        for (from, to) in self.systems() {
            t.push('\n');
            t.push_str(&self.system(&once, from, to));
        }
        t.push_str("\nstroke: d down, u up. change, on the note that arrives: out outside, in inside, swp sweep,\n");
        t.push_str("same the same stroke again, gap after a gap (no test of a change), ? no kind (legato, chord)\n");
        self.repeats_differ(&grid, &mut t);
        self.counts(&grid, &mut t);
        let suggestions = crate::advise::advise(self);
        if !suggestions.is_empty() {
            t.push_str("What would make it flip less:\n");
        }
        for (i, s) in suggestions.iter().enumerate() {
            for (j, row) in wrapped(&s.text, WIDTH - 5).enumerate() {
                let _ = writeln!(t, "  {} {row}", if j == 0 { format!("{}.", i + 1) } else { "  ".to_owned() });
            }
        }
        let _ = write!(t, "\nMarks in the drill file:\n{LEGEND}");
        t.push_str("Strokes are what the drill asks for; a recording does not show them.\n");
        t
    }

    fn heading(&self, grid: &[GridNote]) -> String {
        let mut t = String::new();
        for row in wrapped(&self.name, WIDTH).chain(wrapped(&self.note, WIDTH)) {
            let _ = writeln!(t, "{row}");
        }
        let beat = match self.beat_unit {
            4 => String::new(),
            unit => format!(" of 1/{unit}"),
        };
        let _ = writeln!(
            t,
            "{} bpm, {} steps a beat ({:.1} a second), {} beats{beat} a bar",
            self.tempo.0,
            self.steps_per_beat,
            1.0 / self.step_seconds().0,
            self.beats_per_bar,
        );
        let times = how_often(self.repeats as usize);
        let _ = writeln!(t, "played {times}: {} notes, {:.1} s", grid.len(), self.duration().0);
        let _ = write!(t, "tuning {}", self.tuning.echo());
        if self.capo > 0 {
            let _ = write!(t, ", capo at fret {} (frets count from it)", self.capo);
        }
        if self.a4.0 != 440.0 {
            let _ = write!(t, ", A4 = {} Hz", self.a4.0);
        }
        let first = grid.iter().find_map(|n| n.stroke).unwrap_or(self.first_stroke);
        let picking = match self.picking {
            Picking::Alternate => "alternate strokes",
            Picking::Economy => "alternate strokes, sweeps to the next string where the direction allows",
            Picking::Down => "downstrokes",
            Picking::Written => "strokes as written",
        };
        let _ = write!(t, "\n{picking}, from {}", stroke_words(first));
        if grid.iter().any(|n| n.after_gap) {
            t.push_str(match self.after_gap {
                AfterGap::Next => "; after a gap the next stroke",
                AfterGap::Hand => "; through a gap the hand keeps moving",
                AfterGap::Restart => "; after a gap the first stroke again",
            });
        }
        if self.swing != 50.0 {
            let _ = write!(t, "; swing: the first of two steps takes {} per cent", self.swing);
        }
        t.push('\n');
        t
    }

    /// Where to break the line: at bars where they fit, else at beats, else anywhere.
    fn systems(&self) -> Vec<(usize, usize)> {
        let fit = (WIDTH - LABEL) / CELL;
        let starts = Timing::of(self).starts;
        let pickup = starts.get(usize::from(self.pickup_steps)).copied().unwrap_or(0);
        let bar = TICKS * u64::from(self.beats_per_bar.max(1));
        let on = |position: &usize, unit: u64| {
            starts.get(*position).is_some_and(|s| (s + unit - pickup % unit).is_multiple_of(unit))
        };
        let mut systems = Vec::new();
        let mut from = 0;
        while from < self.line.len() {
            let most = (from + fit).min(self.line.len());
            let mut to = most;
            if most < self.line.len() {
                let back = |unit: u64| (from + 1..=most).rev().find(|p| on(p, unit)).filter(|p| p - from >= fit / 2);
                to = back(bar).or_else(|| back(TICKS)).unwrap_or(most);
            }
            systems.push((from, to));
            from = to;
        }
        systems
    }

    fn system(&self, once: &[&GridNote], from: usize, to: usize) -> String {
        let row = |label: String, cell: &dyn Fn(usize) -> String| -> String {
            let cells: String = (from..to).map(|p| format!("{:<CELL$}", cell(p))).collect();
            format!("{label:<LABEL$}{cells}").trim_end().to_owned() + "\n"
        };
        let note = |p: usize| once.binary_search_by_key(&p, |n| n.position).ok().map(|i| once[i]);
        let mut t = row("step".to_owned(), &|p| (p + 1).to_string());
        if self.bars.iter().any(|b| (from..to).contains(b)) {
            t.push_str(&row("bar line".to_owned(), &|p| {
                if self.bars.contains(&p) { "|".to_owned() } else { String::new() }
            }));
        }
        if self.divisions.iter().any(|d| (from..to).contains(&d.0)) {
            let division =
                |p: usize| self.divisions.iter().find(|d| d.0 == p).map_or(String::new(), |d| format!("/{}", d.1));
            t.push_str(&row("a beat has".to_owned(), &division));
        }
        for string in 1..=self.tuning.strings() {
            let open = self.tuning.string(string).map_or(String::new(), |k| k.name());
            t.push_str(&row(format!("{string}={open}"), &|p| {
                self.line.get(p).map_or(String::new(), |s| cell(s, string))
            }));
        }
        let stroke = |p: usize| match note(p).and_then(|n| n.stroke) {
            Some(Stroke::Down) => "d".to_owned(),
            Some(Stroke::Up) => "u".to_owned(),
            None => String::new(),
        };
        t.push_str(&row("stroke".to_owned(), &stroke));
        let change = |p: usize| note(p).and_then(|n| n.change).map_or("", change_sign).to_owned();
        if (from..to).any(|p| !change(p).is_empty()) {
            t.push_str(&row("change".to_owned(), &change));
        }
        t
    }

    fn repeats_differ(&self, grid: &[GridNote], t: &mut String) {
        if self.repeats < 2 {
            return;
        }
        let notes = self.notes_in_line();
        let flips = grid.iter().zip(grid.iter().skip(notes)).take(notes).any(|(a, b)| a.stroke != b.stroke);
        if flips {
            t.push_str(
                "The strokes above are the first time through; they are the other way round every second time.\n",
            );
        }
    }

    fn counts(&self, grid: &[GridNote], t: &mut String) {
        let counts = change_counts(grid);
        if counts.is_empty() {
            t.push_str("\nNo string change is tested.\n");
            return;
        }
        t.push_str("\nString changes over all repeats:\n");
        for c in &counts {
            let Change { from, to, kind, leaves_on, adjacent, .. } = c.change;
            let leaves = leaves_on.map_or(String::new(), |s| format!(", leaves on {}", stroke_words(s)));
            let skip = if adjacent { "" } else { ", skips strings" };
            let times = how_often(c.count);
            let text = format!(
                "from string {from} to {to}: {}{skip}{leaves}: {times}, at {}",
                kind_words(kind),
                steps(&c.positions)
            );
            for line in wrapped(&text, WIDTH - 2) {
                let _ = writeln!(t, "  {line}");
            }
        }
        let l = leaving(grid);
        let _ = writeln!(t, "Leaves a string on upstrokes {}, on downstrokes {}.", l.up, l.down);
        if l.flips.is_empty() {
            if l.up + l.down > 1 {
                t.push_str("The leaving stroke never flips.\n");
            }
        } else {
            let mut at: Vec<usize> = l.flips.iter().filter_map(|i| grid.get(*i)).map(|n| n.position).collect();
            at.sort_unstable();
            at.dedup();
            let text = format!("The leaving stroke flips {}, at {}.", how_often(l.flips.len()), steps(&at));
            for line in wrapped(&text, WIDTH) {
                let _ = writeln!(t, "{line}");
            }
        }
    }
}

fn steps(positions: &[usize]) -> String {
    let numbers: Vec<_> = positions.iter().map(|p| (p + 1).to_string()).collect();
    format!("step{} {}", if numbers.len() == 1 { "" } else { "s" }, numbers.join(", "))
}

fn change_sign(change: Change) -> &'static str {
    match change.kind {
        _ if change.after_gap => "gap",
        Some(ChangeKind::Outside) => "out",
        Some(ChangeKind::Inside) => "in",
        Some(ChangeKind::Sweep) => "swp",
        Some(ChangeKind::SameStroke) => "same",
        None => "?",
    }
}

/// What one string shows at one step: the fret with its marks, a held or an empty place.
fn cell(step: &Step, string: u8) -> String {
    match step {
        Step::Silent => "-".to_owned(),
        Step::Held => "~".to_owned(),
        Step::Note(note) => match note.fingered.iter().find(|f| f.string == string) {
            Some(_) if note.dead => format!("x{}", marks(note)),
            Some(place) => format!("{}{}", place.fret, marks(note)),
            None => ".".to_owned(),
        },
    }
}

fn marks(note: &LineNote) -> String {
    let legato = match note.sounding {
        Sounding::Picked => "",
        Sounding::HammerOn => "h",
        Sounding::PullOff => "p",
    };
    // A cell holds the fret and two marks at the most; the muting mark yields.
    let all = [legato, if note.accent { ">" } else { "" }, if note.palm_muted { "m" } else { "" }].concat();
    all.chars().take(1).collect()
}

/// Breaks text at spaces so that no row is wider than `width`; a longer word is cut.
pub(crate) fn wrapped(text: &str, width: usize) -> impl Iterator<Item = String> {
    let mut rows: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let mut rest: Vec<char> = word.chars().collect();
        while !rest.is_empty() {
            let piece: String = rest.drain(..rest.len().min(width)).collect();
            match rows.last_mut() {
                Some(row) if row.chars().count() + 1 + piece.chars().count() <= width => {
                    row.push(' ');
                    row.push_str(&piece);
                }
                _ => rows.push(piece),
            }
        }
    }
    rows.into_iter()
}

#[cfg(test)]
mod tests {
    use crate::{Drill, built_in, named};

    #[test]
    fn a_line_as_text() {
        let drill = named("four-then-three").unwrap();
        insta::assert_snapshot!(drill.show());
    }

    #[test]
    fn marks_gaps_and_chords_as_text() {
        let text = "name='Odd things'\ntempo_bpm=96.5\nsteps_per_beat=3\nbeats_per_bar=2\nbeat_unit=8\ncapo=2\na4_hz=442\n\
                    tuning='bass'\nrepeats=2\nline='4:3> 4:5h 4:3p | [3:2 2:2]u ~ - | /2 3:0x 2:12m | 1:3 -'";
        insta::assert_snapshot!(Drill::parse(text, "t").unwrap().show());
    }

    #[test]
    fn nothing_is_wider_than_100_columns() {
        for b in built_in() {
            for row in b.drill().unwrap().show().lines() {
                assert!(row.chars().count() <= 100, "{}: {row}", b.name);
            }
        }
        let text = format!(
            "name='{}'\ntempo_bpm=90\nsteps_per_beat=7\ntuning='standard'\nline='{}'",
            "n".repeat(190),
            "6:1 5:1 ".repeat(40)
        );
        let shown = Drill::parse(&text, "t").unwrap().show();
        assert!(shown.lines().all(|row| row.chars().count() <= 100), "{shown}");
    }
}
