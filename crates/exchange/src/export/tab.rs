//! Tablature as plain text: one row a string, four columns a step, stroke signs above, marks below.
//!
//! Rows that start with `#` carry the drill file's keys, so that the text reads back to the drill.

use super::exported::{Exported, stroke_losses};
use std::fmt::Write as _;
use takegauge_drill::timing::{TICKS, Timing};
use takegauge_drill::{Drill, GridNote, LineNote, Sounding, Step, Stroke};

/// Columns of a step.
pub(crate) const STEP: usize = 4;
const LABEL: usize = 7;
const WIDTH: usize = 100;

pub(super) fn write(drill: &Drill) -> Exported {
    let bare = Drill { line: Vec::new(), bars: Vec::new(), divisions: Vec::new(), ..drill.clone() };
    let mut t = String::new();
    for row in bare.to_toml().lines().take_while(|r| !r.starts_with("line =")) {
        let _ = writeln!(t, "# {row}");
    }
    let _ = writeln!(t, "# columns_per_step = {STEP}");
    t.push_str("# h p before the fret: hammer-on, pull-off; x dead; ~ held; strokes d down, u up;\n");
    t.push_str("# marks > accent, m palm-muted, r way back; /n from here n steps a beat\n");
    let grid = drill.repeated(1).grid();
    for (from, to) in systems(drill) {
        t.push('\n');
        system(&mut t, drill, &grid, from, to);
    }
    let dead = drill.line.iter().any(|s| matches!(s, Step::Note(n) if n.dead && n.fingered.iter().any(|f| f.fret > 0)));
    let mut losses = Vec::new();
    stroke_losses(drill, &mut losses);
    if dead {
        losses.push("The frets of dead notes are not carried.".to_owned());
    }
    Exported { bytes: t.into_bytes(), losses }
}

/// Systems end at bar lines where they fit.
fn systems(drill: &Drill) -> Vec<(usize, usize)> {
    let fit = (WIDTH - LABEL) / (STEP + 1);
    let starts = Timing::of(drill).starts;
    let bar = TICKS * u64::from(drill.beats_per_bar.max(1));
    let pickup = starts.get(usize::from(drill.pickup_steps)).copied().unwrap_or(0);
    let mut systems = Vec::new();
    let mut from = 0;
    while from < drill.line.len() {
        let most = (from + fit).min(drill.line.len());
        let on_bar = |p: &usize| starts.get(*p).is_some_and(|s| *s >= pickup && (s - pickup).is_multiple_of(bar));
        let to = if most < drill.line.len() { (from + 1..=most).rev().find(on_bar).unwrap_or(most) } else { most };
        systems.push((from, to));
        from = to;
    }
    systems
}

fn system(t: &mut String, drill: &Drill, grid: &[GridNote], from: usize, to: usize) {
    // Where the drill writes a bar line, a column of bars stands before the step.
    let bar = |p: usize| p > from && p < to && drill.bars.contains(&p);
    let mut row = |label: &str, filler: char, bar_sign: char, cell: &dyn Fn(usize) -> String, edge: &str| {
        let mut row = format!("{label:<width$}{edge}", width = LABEL - 1);
        for p in from..to {
            if bar(p) {
                row.push(bar_sign);
            }
            let cell = cell(p);
            row.push_str(&cell);
            row.extend(std::iter::repeat_n(filler, STEP.saturating_sub(cell.chars().count())));
        }
        row.push_str(edge);
        let _ = writeln!(t, "{}", row.trim_end());
    };
    let note = |p: usize| grid.binary_search_by_key(&p, |n| n.position).ok().and_then(|i| grid.get(i));
    if drill.divisions.iter().any(|d| (from..to).contains(&d.0)) {
        let division =
            |p: usize| drill.divisions.iter().find(|d| d.0 == p).map_or(String::new(), |d| format!(" /{}", d.1));
        row("beat", ' ', ' ', &division, " ");
    }
    let stroke = |p: usize| match note(p).and_then(|n| n.stroke) {
        Some(Stroke::Down) => " d".to_owned(),
        Some(Stroke::Up) => " u".to_owned(),
        None => String::new(),
    };
    row("stroke", ' ', ' ', &stroke, " ");
    for string in 1..=drill.tuning.strings() {
        let label = drill.tuning.string(string).map_or(String::new(), |k| k.name());
        row(&label, '-', '|', &|p| cell(drill, p, string), "|");
    }
    let marks = |p: usize| match drill.line.get(p) {
        Some(Step::Note(n)) if !marks_of(n).is_empty() => format!(" {}", marks_of(n)),
        _ => String::new(),
    };
    if (from..to).any(|p| !marks(p).is_empty()) {
        row("marks", ' ', ' ', &marks, " ");
    }
}

fn marks_of(note: &LineNote) -> String {
    [(note.accent, '>'), (note.palm_muted, 'm'), (note.way_back, 'r')].iter().filter(|m| m.0).map(|m| m.1).collect()
}

fn cell(drill: &Drill, position: usize, string: u8) -> String {
    match drill.line.get(position) {
        Some(Step::Note(note)) => {
            let Some(place) = note.fingered.iter().find(|f| f.string == string) else { return String::new() };
            let before = match note.sounding {
                Sounding::Picked => '-',
                Sounding::HammerOn => 'h',
                Sounding::PullOff => 'p',
            };
            if note.dead { format!("{before}x") } else { format!("{before}{}", place.fret) }
        }
        Some(Step::Held) => {
            let note = drill.line.iter().take(position).rev().find_map(|s| match s {
                Step::Note(n) => Some(n),
                _ => None,
            });
            let held = note.is_some_and(|n| n.fingered.iter().any(|f| f.string == string));
            if held { "-~".to_owned() } else { String::new() }
        }
        _ => String::new(),
    }
}
