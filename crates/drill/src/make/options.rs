//! What can be asked of a made drill, and what of it is refused.

use super::scales::Scale;
use crate::{Change, ChangeKind, DrillError, Picking, Stroke, Tuning};
use takegauge_units::Bpm;

/// Which way a line runs over the strings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Direction {
    /// Rising in pitch: from the highest string number to the lowest.
    Ascending,
    /// Falling.
    Descending,
    /// Up, then down.
    Both,
}

/// The change that a drill is to train, and no other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Aim {
    /// One kind of change.
    Only(ChangeKind),
    /// Changes that leave a string on this stroke.
    LeavesOn(Stroke),
    /// The change from one string to another.
    Change {
        /// The string left.
        from: u8,
        /// The string reached.
        to: u8,
    },
}

impl Aim {
    /// Whether a change is the one aimed at.
    pub fn meets(self, change: &Change) -> bool {
        match self {
            Self::Only(kind) => change.kind == Some(kind),
            Self::LeavesOn(stroke) => change.leaves_on == Some(stroke),
            Self::Change { from, to } => change.from == from && change.to == to,
        }
    }
}

/// What to make.
#[derive(Debug, Clone, PartialEq)]
pub struct MakeOptions {
    /// The notes to take.
    pub scale: Scale,
    /// The lowest fret of the hand, 0 to 24.
    pub position: u8,
    /// Notes on each string in turn, 1 to 6; the list starts over where it ends (4-3-4).
    pub notes_a_string: Vec<u8>,
    /// First and last string, from the highest number to the lowest; `None` for all.
    pub strings: Option<(u8, u8)>,
    /// Which way.
    pub direction: Direction,
    /// Groups of so many notes, each group starting one note further; 3 or 4.
    pub sequence: Option<u8>,
    /// Strings left out at each change, 0 to 2.
    pub skip: u8,
    /// One note a string over so many strings, 3 to 5, instead of runs.
    pub roll: Option<u8>,
    /// The change to train.
    pub aim: Option<Aim>,
    /// Frets between the lowest and the highest of a hand position, 2 to 7.
    pub span: u8,
    /// Open strings.
    pub tuning: Tuning,
    /// Quarter notes a minute.
    pub tempo: Bpm,
    /// Steps a beat, 1 to 12.
    pub steps_per_beat: u8,
    /// Times the line is played, 1 to 1,000.
    pub repeats: u32,
    /// How strokes are chosen (an aim may need another way and then says so).
    pub picking: Picking,
    /// The first stroke (an aim may need the other one).
    pub first_stroke: Stroke,
}

impl MakeOptions {
    /// Three notes a string over all strings of a guitar in standard tuning, at fret 5.
    pub fn new(scale: Scale) -> Self {
        Self {
            scale,
            position: 5,
            notes_a_string: vec![3],
            strings: None,
            direction: Direction::Both,
            sequence: None,
            skip: 0,
            roll: None,
            aim: None,
            span: 4,
            tuning: Tuning::standard(),
            tempo: Bpm(100.0),
            steps_per_beat: 4,
            repeats: 4,
            picking: Picking::Alternate,
            first_stroke: Stroke::Down,
        }
    }

    /// The first and the last string, whether they were chosen or not.
    pub(super) fn strings(&self) -> (u8, u8) {
        self.strings.unwrap_or((self.tuning.strings(), 1))
    }
}

/// Refuses the first option that is out of its range.
pub(super) fn check(options: &MakeOptions) -> Result<(), DrillError> {
    let strings = options.tuning.strings();
    let (from, to) = options.strings();
    if !(1..=strings).contains(&to) || !(to..=strings).contains(&from) {
        return refuse(
            "strings",
            format!("{from} to {to}"),
            format!("from {strings} down to 1, the higher number first"),
        );
    }
    if options.position > 24 {
        return refuse("position", options.position.to_string(), "0 to 24");
    }
    if options.notes_a_string.is_empty() || options.notes_a_string.len() > 12 {
        return refuse(
            "notes a string",
            format!("{} numbers", options.notes_a_string.len()),
            "1 to 12 numbers, as 3 or 4-3-4",
        );
    }
    if let Some(n) = options.notes_a_string.iter().find(|n| !(1..=6).contains(*n)) {
        return refuse("notes a string", n.to_string(), "1 to 6");
    }
    if let Some(n) = options.sequence.filter(|n| !(3..=4).contains(n)) {
        return refuse("sequence", n.to_string(), "groups of 3 or 4");
    }
    if let Some(n) = options.roll.filter(|n| !(3..=5).contains(n)) {
        return refuse("roll", n.to_string(), "3 to 5 strings");
    }
    if options.skip > 2 {
        return refuse("skip", options.skip.to_string(), "0 to 2 strings");
    }
    if options.skip > 0 && options.aim == Some(Aim::Only(ChangeKind::Sweep)) {
        return refuse("skip", options.skip.to_string(), "0 where sweeps are trained: a sweep goes to the next string");
    }
    if !(2..=7).contains(&options.span) {
        return refuse("span", options.span.to_string(), "2 to 7 frets");
    }
    if !(20.0..=400.0).contains(&options.tempo.0) {
        return refuse("tempo", options.tempo.0.to_string(), "20 to 400 quarter notes a minute");
    }
    if !(1..=12).contains(&options.steps_per_beat) {
        return refuse("steps a beat", options.steps_per_beat.to_string(), "1 to 12");
    }
    if !(1..=1000).contains(&options.repeats) {
        return refuse("repeats", options.repeats.to_string(), "1 to 1000");
    }
    Ok(())
}

/// Refuses an option.
pub(super) fn refuse<T>(option: &str, read: String, allowed: impl Into<String>) -> Result<T, DrillError> {
    Err(DrillError::Option { option: option.to_owned(), read, allowed: allowed.into() })
}
