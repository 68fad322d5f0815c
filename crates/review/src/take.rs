//! One take as every figure sees it: the notes that were reached, flat over all passes, with what is known of each.

use std::collections::BTreeSet;
use takegauge_align::{Placed, Status, TempoFrom};
use takegauge_audio::Health;
use takegauge_drill::{Drill, GridNote, Stroke};
use takegauge_measure::{Measured, NoteMeasure};
use takegauge_units::{Bpm, Millis};

use crate::score::{Mode, TakeSection};

/// What becomes of notes after a slip, whose strokes are the drill's by assumption, where groups speak of strokes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum AfterSlip {
    /// They stay, and are counted aloud.
    #[default]
    Keep,
    /// They are left out.
    Drop,
}

/// Everything that one take's report is made from.
#[derive(Debug, Clone)]
pub struct Input<'a> {
    /// The drill.
    pub drill: &'a Drill,
    /// Its notes: `drill.grid()`.
    pub grid: &'a [GridNote],
    /// What was heard, placed and measured.
    pub measured: &'a Measured,
    /// What was read.
    pub take: TakeSection,
    /// Recording health, where it was taken.
    pub recording: Option<Health>,
    /// What the reader should know.
    pub warnings: Vec<String>,
    /// The first stroke that the grid was made with.
    pub first_stroke: Stroke,
    /// Steady or to a click.
    pub mode: Mode,
    /// The tempo that was asked for by name, where one was: `--tempo`, or a number in the file's name.
    pub asked_tempo: Option<Bpm>,
    /// What becomes of notes after a slip.
    pub after_slip: AfterSlip,
    /// The set-up's measured delay, where it is known; without it the average distance from a click says nothing.
    pub latency: Option<Millis>,
    /// Why levels cannot be compared (a driven or limited recording), where they cannot.
    pub level_withheld: Option<String>,
    /// Of every random choice.
    pub seed: u64,
    /// Of the program.
    pub version: &'a str,
    /// Whether the report carries the outline of the waveform.
    pub with_waveform: bool,
}

impl Input<'_> {
    /// The tempo that was asked for by name, where the take was placed by it: a number in a file's name that the playing
    /// has nothing to do with was none.
    pub(crate) fn asked(&self) -> Option<Bpm> {
        let named = matches!(self.measured.alignment.tempo_from, TempoFrom::Given | TempoFrom::FileName);
        self.asked_tempo.filter(|_| named)
    }
}

/// A note of one pass that was reached.
#[derive(Debug, Clone)]
pub(crate) struct Judged<'a> {
    pub(crate) grid: &'a GridNote,
    pub(crate) placed: &'a Placed,
    pub(crate) measure: Option<&'a NoteMeasure>,
    pub(crate) pass: usize,
    /// Which repeat of which pass, counted from 0 over the take: what is shuffled and resampled together.
    pub(crate) block: usize,
    /// Played minus expected, ms; only of picked notes that were heard.
    pub(crate) deviation: Option<f64>,
    /// Whether the drill's stroke is the one played for all that can be seen.
    pub(crate) stroke_sure: bool,
    /// Whether the note enters groups that speak of strokes.
    pub(crate) stroke_used: bool,
    /// First note reached in its pass, or first after a hesitation: it comes after silence whatever the drill says.
    pub(crate) starts: bool,
    /// Attacks that are no note of the drill, just before it.
    pub(crate) extras_before: usize,
    /// Distance to the note before and after in the pass as expected, ms, whichever is shorter.
    pub(crate) shorter_neighbour: Option<f64>,
}

impl Judged<'_> {
    pub(crate) fn missed(&self) -> bool {
        self.placed.status == Status::Missed
    }

    pub(crate) fn wrong(&self) -> bool {
        self.placed.status == Status::WrongPitch
    }

    /// When it was heard, s, where it was; else where it was expected.
    pub(crate) fn time(&self) -> f64 {
        self.placed.played.map_or(self.placed.expected.0, |p| p.0)
    }
}

/// The notes reached, pass by pass, then by index.
pub(crate) fn reached<'a>(grid: &'a [GridNote], measured: &'a Measured, after_slip: AfterSlip) -> Vec<Judged<'a>> {
    let mut all = Vec::new();
    let mut blocks = 0;
    for (pass, p) in measured.alignment.passes.iter().enumerate() {
        let after: Vec<Option<usize>> =
            measured.alignment.extra.iter().filter(|x| x.pass == pass).map(|x| x.after_index).collect();
        let own_strokes: Vec<Option<usize>> = measured
            .alignment
            .extra
            .iter()
            .filter(|x| x.pass == pass && !brushed(x.attack, measured, &p.notes))
            .map(|x| x.after_index)
            .collect();
        let known = strokes(&p.notes, grid, &own_strokes, &p.anew);
        let first = all.len();
        let mut last_repeat = None;
        for (k, (placed, known)) in p.notes.iter().zip(known).enumerate() {
            let Some(note) = grid.get(placed.index).filter(|_| placed.status != Status::NotReached) else { continue };
            if last_repeat.is_some_and(|r| r != note.repeat) {
                blocks += 1;
            }
            last_repeat = Some(note.repeat);
            let deviation = placed.played.map(|t| (t.0 - placed.expected.0) * 1e3);
            let before = placed.index.checked_sub(1);
            all.push(Judged {
                grid: note,
                placed,
                measure: measured.notes.get(pass).and_then(|m| m.get(k)),
                pass,
                block: blocks,
                deviation: deviation.filter(|d| d.is_finite() && note.picked()),
                stroke_sure: known == StrokeKnown::Sure,
                stroke_used: known == StrokeKnown::Sure
                    || known == StrokeKnown::Assumed && after_slip == AfterSlip::Keep,
                starts: all.len() == first || p.anew.binary_search(&placed.index).is_ok(),
                extras_before: after.iter().filter(|a| **a == before).count(),
                shorter_neighbour: shorter_neighbour(&p.notes, k),
            });
        }
        blocks += 1;
    }
    all
}

fn shorter_neighbour(notes: &[Placed], k: usize) -> Option<f64> {
    let at = |i: usize| notes.get(i).map(|n| n.expected.0);
    let here = at(k)?;
    let before = k.checked_sub(1).and_then(at).map(|t| here - t);
    let after = at(k + 1).map(|t| t - here);
    let both = before.into_iter().chain(after).filter(|d| *d > 0.0 && d.is_finite());
    both.reduce(f64::min).map(|s| s * 1e3)
}

/// No hand makes two strokes nearer than this, s: twice the fastest wrist rate measured, 10 Hz (Fujii and others 2009).
const NEAREST_STROKES: f64 = 0.05;

/// Whether an extra attack lies so near to a note that it can be no stroke of its own: a string brushed on the way, or
/// a sound of the recording. The hand's alternation goes on as the drill has it.
fn brushed(attack: usize, measured: &Measured, notes: &[Placed]) -> bool {
    let Some(at) = measured.extra.iter().find(|m| m.extra.attack == attack).map(|m| m.played.0) else { return false };
    notes.iter().filter_map(|n| n.played).any(|t| (t.0 - at).abs() < NEAREST_STROKES)
}

/// How far the drill's stroke can be taken to be the one played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum StrokeKnown {
    /// Nothing speaks against it.
    Sure,
    /// A slip came before: the hand is taken to have kept moving.
    Assumed,
    /// The pass begins at a note that the drill does not give its first stroke.
    Unknown,
}

/// What is known of each note's stroke. A note not heard uses up its stroke, an attack that is no note of the drill uses
/// up none, as trained hands go; the strokes after one are assumed until the next gap, or the next repeat without a slip.
fn strokes(notes: &[Placed], grid: &[GridNote], extra_after: &[Option<usize>], anew: &[usize]) -> Vec<StrokeKnown> {
    let extra: BTreeSet<Option<usize>> = extra_after.iter().copied().collect();
    let first_stroke = grid.iter().find_map(|g| g.stroke);
    let repeat = |index: usize| grid.get(index).map(|g| g.repeat);
    let missed = |p: &&Placed| p.status == Status::Missed && grid.get(p.index).is_some_and(GridNote::picked);
    let slipped: BTreeSet<Option<usize>> = notes
        .iter()
        .filter(missed)
        .map(|p| repeat(p.index))
        .chain(extra_after.iter().flatten().map(|before| repeat(before + 1)))
        .collect();
    let mut begun = false;
    let mut known = StrokeKnown::Sure;
    let mut out = Vec::with_capacity(notes.len());
    for placed in notes {
        let note = grid.get(placed.index);
        let reached = placed.status != Status::NotReached;
        let starts = anew.binary_search(&placed.index).is_ok();
        if reached && (!begun || starts) {
            begun = true;
            let first = placed.index == 0 || note.and_then(|n| n.stroke) == first_stroke;
            known = if first { StrokeKnown::Sure } else { StrokeKnown::Unknown };
        }
        let before = placed.index.checked_sub(1);
        let opens_repeat = before.is_some_and(|b| repeat(b) != repeat(placed.index));
        let clean_repeat = opens_repeat && !slipped.contains(&repeat(placed.index));
        if note.is_some_and(|n| n.after_gap) && !starts || clean_repeat && known == StrokeKnown::Assumed {
            known = StrokeKnown::Sure;
        }
        // An extra attack just before a note that follows a gap still makes that note's stroke an assumption.
        let slip_before = begun && before.is_some_and(|b| extra.contains(&Some(b)));
        if slip_before && known == StrokeKnown::Sure {
            known = StrokeKnown::Assumed;
        }
        out.push(if reached { known } else { StrokeKnown::Unknown });
        if missed(&placed) && known == StrokeKnown::Sure {
            known = StrokeKnown::Assumed;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{aligned, drill};

    const LINE: &str = "6:3 6:5 5:3 5:5 - 4:4 4:5 3:4 3:5 -";

    #[test]
    fn after_a_slip_the_hand_kept_moving_until_a_clean_repeat_settles_it() {
        let d = drill("6:3 6:5 6:7 5:3 5:5 5:7", 4);
        let grid = d.grid();
        let mut m = aligned(&grid, 120.0, |_| Some(0.0));
        m.alignment.passes[0].notes[8].status = Status::Missed;
        m.alignment.passes[0].notes[8].played = None;
        let kept = reached(&grid, &m, AfterSlip::Keep);
        assert!(kept.iter().all(|n| n.stroke_used));
        let assumed: Vec<usize> = kept.iter().filter(|n| !n.stroke_sure).map(|n| n.grid.index).collect();
        assert_eq!(assumed, [9, 10, 11]);
        let dropped = reached(&grid, &m, AfterSlip::Drop);
        assert_eq!(dropped.iter().filter(|n| !n.stroke_used).count(), 3);
    }

    #[test]
    fn strokes_are_unsure_after_a_missed_note_until_the_gap() {
        let d = drill(LINE, 1);
        let grid = d.grid();
        let mut m = aligned(&grid, 120.0, |_| Some(0.0));
        m.alignment.passes[0].notes[1].status = Status::Missed;
        m.alignment.passes[0].notes[1].played = None;
        let sure: Vec<bool> = reached(&grid, &m, AfterSlip::Keep).iter().map(|n| n.stroke_sure).collect();
        assert_eq!(sure, [true, true, false, false, true, true, true, true]);
    }

    #[test]
    fn an_extra_note_counts_for_the_one_it_precedes() {
        let d = drill(LINE, 1);
        let grid = d.grid();
        let mut m = aligned(&grid, 120.0, |_| Some(0.0));
        m.alignment.extra.push(takegauge_align::Extra { attack: 0, after_index: Some(5), pass: 0 });
        let notes = reached(&grid, &m, AfterSlip::Keep);
        assert_eq!(notes.iter().map(|n| n.extras_before).collect::<Vec<_>>(), [0, 0, 0, 0, 0, 0, 1, 0]);
        assert!(notes[5].stroke_sure && !notes[6].stroke_sure && !notes[7].stroke_sure);
    }

    #[test]
    fn a_start_on_an_upstroke_leaves_strokes_unsure() {
        let d = drill("6:3 6:5 5:3 5:5", 2);
        let grid = d.grid();
        let mut m = aligned(&grid, 120.0, |_| Some(0.0));
        m.alignment.passes[0].notes[0].status = Status::NotReached;
        m.alignment.passes[0].notes[0].played = None;
        let notes = reached(&grid, &m, AfterSlip::Keep);
        assert!(notes[0].starts && notes.iter().all(|n| !n.stroke_sure));
        assert_eq!(notes.iter().map(|n| n.block).collect::<Vec<_>>(), [0, 0, 0, 1, 1, 1, 1]);
    }
}
