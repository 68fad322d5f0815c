//! From played pitches with times to a drill: what MIDI files and JAMS annotations have in common.

use super::fingering;
use super::imported::{Imported, MAX_IMPORTED, Options, checked, lose, tidy_name};
use super::quantise::{Timed, fold, to_even_line};
use takegauge_drill::timing::TICKS;
use takegauge_drill::{Drill, DrillError, Fingered, LineNote, Step, Tuning};
use takegauge_units::{Bpm, MidiKey};

/// A pitch with its time in ticks of a beat.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pitch {
    pub(super) start: u64,
    pub(super) end: u64,
    pub(super) key: MidiKey,
    /// The string where the file knows it.
    pub(super) string: Option<u8>,
}

/// What else the file says.
pub(super) struct Frame {
    pub(super) name: String,
    pub(super) tempo: Bpm,
    pub(super) beats_per_bar: u8,
    pub(super) beat_unit: u8,
    /// Times were counted by a machine, so that they may be cut down to whole bars before the first note.
    pub(super) bars: bool,
}

/// Times this far from the grid, in parts of a beat, still choose it.
const SLACK: u64 = TICKS / 50;

pub(super) fn drill(
    mut pitches: Vec<Pitch>,
    frame: Frame,
    file: &str,
    options: &Options,
    mut losses: Vec<String>,
) -> Result<Imported, DrillError> {
    pitches.sort_by_key(|p| (p.start, p.key.0));
    if pitches.len() > MAX_IMPORTED {
        return Err(DrillError::TooManyNotes { file: file.to_owned(), notes: pitches.len(), limit: MAX_IMPORTED });
    }
    let bar = TICKS * u64::from(frame.beats_per_bar.max(1));
    if let (true, Some((first, last))) = (frame.bars, options.bars) {
        let range = (first as u64 - 1).saturating_mul(bar)..(last as u64).saturating_mul(bar);
        pitches.retain(|p| range.contains(&(p.start + SLACK)));
    }
    let Some(first) = pitches.first().map(|p| p.start) else {
        return Err(DrillError::NoNotes { file: file.to_owned() });
    };
    let from = if frame.bars { (first + SLACK) / bar * bar } else { first };
    for pitch in &mut pitches {
        pitch.start = pitch.start.saturating_sub(from);
        pitch.end = pitch.end.saturating_sub(from);
    }
    let steps_per_beat = options.even.unwrap_or_else(|| coarsest(&pitches));
    let step = TICKS / u64::from(steps_per_beat);
    let tuning = options.tuning.clone().unwrap_or_else(|| {
        lose(&mut losses, "No tuning is written: E2 A2 D3 G3 B3 E4 is taken for granted.");
        Tuning::standard()
    });
    let notes = notes(&pitches, step, &tuning, &mut losses);
    let end = notes.iter().map(|n| n.end).max().unwrap_or(step).div_ceil(step) * step;
    let mut grid = to_even_line(&notes, end, steps_per_beat);
    let beat_ms = frame.tempo.beat().0 * 4000.0 / f64::from(frame.beat_unit.max(1));
    let off = |p: &Pitch| p.start.abs_diff((p.start + step / 2) / step * step) as f64 / TICKS as f64 * beat_ms;
    let moved = pitches.iter().map(off).filter(|ms| *ms > 0.1);
    let (count, furthest) = moved.fold((0, 0f64), |m, ms| (m.0 + 1, m.1.max(ms)));
    if count > 0 {
        let steps = format!("{steps_per_beat} steps a beat");
        lose(&mut losses, format!("{count} notes were moved to {steps}, the furthest by {furthest:.1} ms."));
    }
    if grid.dropped > 0 {
        lose(&mut losses, format!("{} notes fell on a step that was taken and are not carried.", grid.dropped));
    }
    let repeats = folded(&mut grid.steps, steps_per_beat, frame.beats_per_bar);
    if repeats > 1 {
        lose(
            &mut losses,
            format!("The line is the same {repeats} times over: it is written once with repeats = {repeats}."),
        );
    }
    lose(&mut losses, "No strokes are written: alternate strokes from a downstroke are taken for granted.");
    let drill = Drill {
        steps_per_beat,
        beats_per_bar: frame.beats_per_bar,
        beat_unit: frame.beat_unit,
        repeats,
        line: grid.steps,
        ..Drill::plain(tidy_name(&frame.name, file), frame.tempo, tuning)
    };
    Ok(Imported { drill: checked(drill, file)?, losses })
}

fn coarsest(pitches: &[Pitch]) -> u8 {
    let fits = |n: &u8| {
        let step = TICKS / u64::from(*n);
        pitches.iter().all(|p| (p.start % step).min(step - p.start % step) <= SLACK)
    };
    [1, 2, 3, 4, 6, 8, 5, 7, 12].into_iter().find(fits).unwrap_or(4)
}

/// Repeats of the line as it is, else of the line filled up to a whole bar.
fn folded(steps: &mut Vec<Step>, steps_per_beat: u8, beats_per_bar: u8) -> u32 {
    let repeats = fold(steps, &[]);
    if repeats > 1 {
        return repeats;
    }
    let bar = usize::from(steps_per_beat) * usize::from(beats_per_bar);
    let mut full = steps.clone();
    full.resize(steps.len().next_multiple_of(bar.max(1)), Step::Silent);
    let repeats = fold(&mut full, &[]);
    if repeats > 1 {
        *steps = full;
    }
    repeats
}

fn notes(pitches: &[Pitch], step: u64, tuning: &Tuning, losses: &mut Vec<String>) -> Vec<Timed> {
    let on_grid = |tick: u64| (tick + step / 2) / step * step;
    let groups: Vec<&[Pitch]> = pitches.chunk_by(|a, b| on_grid(a.start) == on_grid(b.start)).collect();
    let known = |p: &Pitch| {
        let string = p.string?;
        let fret = p.key.0.checked_sub(tuning.string(string)?.0).filter(|f| *f <= takegauge_drill::MAX_FRET)?;
        Some(Fingered { string, fret })
    };
    let written: Vec<Option<Vec<Fingered>>> = groups.iter().map(|g| g.iter().map(known).collect()).collect();
    let unknown: Vec<Vec<MidiKey>> = groups
        .iter()
        .zip(&written)
        .map(|(g, w)| if w.is_some() { Vec::new() } else { g.iter().map(|p| p.key).collect() })
        .collect();
    if unknown.iter().any(|k| !k.is_empty()) {
        lose(
            losses,
            "Strings are not written on every note: they were chosen so that the hand moves least; check them.",
        );
    }
    let proposed = fingering::assign(&unknown, &tuning.open);
    let mut notes = Vec::new();
    for ((group, written), proposal) in groups.iter().zip(written).zip(proposed) {
        let mut fingered = written.or(proposal).unwrap_or_default();
        let mut strings = Vec::new();
        fingered.retain(|f| {
            let fresh = !strings.contains(&f.string);
            strings.push(f.string);
            fresh
        });
        let Some(start) = group.first().map(|p| on_grid(p.start)).filter(|_| !fingered.is_empty()) else {
            lose(losses, "Notes beyond the instrument are not carried.");
            continue;
        };
        if fingered.len() < group.len() {
            lose(losses, "Notes of a chord that cannot be had at once are not carried.");
        }
        let end = group.iter().map(|p| on_grid(p.end)).max().unwrap_or(start).max(start + step);
        notes.push(Timed { start, end, note: LineNote::picked(fingered) });
    }
    notes
}
