//! The player: what the hands do, as numbers. Everything here is about timing, strokes and mistakes; how the guitar
//! and the recording sound is [`crate::Sound`]'s business.

use takegauge_drill::{ChangeKind, GridNote, Stroke};
use takegauge_units::{Decibels, Millis, Seconds};

/// Which notes of a drill a habit or a fault belongs to. Those that name a string change leave changes after a gap
/// alone: with time to spare the motion is not under test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Selector {
    /// Every note.
    All,
    /// Notes on the string of the note before (the drill's first note included).
    SameString,
    /// Notes reached by any string change.
    Change,
    /// Notes reached by this kind of string change.
    Kind(ChangeKind),
    /// Notes reached from one string to another.
    Pair {
        /// The string left.
        from: u8,
        /// The string reached.
        to: u8,
    },
    /// Changes where the string is left on this stroke.
    LeavesOn(Stroke),
    /// Changes to a string nearer the floor (true) or away from it (false).
    Toward1(bool),
    /// Changes to the neighbouring string (true) or further (false).
    Adjacent(bool),
    /// Notes picked with this stroke.
    Stroke(Stroke),
    /// Notes on this string.
    String(u8),
    /// The note at this step of the line, in every repeat.
    Position(usize),
    /// All notes of one repeat.
    Repeat(usize),
}

impl Selector {
    /// Whether the note belongs.
    pub fn matches(self, note: &GridNote) -> bool {
        let tested = note.change.filter(|c| !c.after_gap);
        match self {
            Self::All => true,
            Self::SameString => note.change.is_none(),
            Self::Change => tested.is_some(),
            Self::Kind(kind) => tested.is_some_and(|c| c.kind == Some(kind)),
            Self::Pair { from, to } => tested.is_some_and(|c| c.from == from && c.to == to),
            Self::LeavesOn(stroke) => tested.is_some_and(|c| c.leaves_on == Some(stroke)),
            Self::Toward1(toward) => tested.is_some_and(|c| (c.to < c.from) == toward),
            Self::Adjacent(adjacent) => tested.is_some_and(|c| c.adjacent == adjacent),
            Self::Stroke(stroke) => note.stroke == Some(stroke),
            Self::String(string) => note.string() == string,
            Self::Position(position) => note.position == position,
            Self::Repeat(repeat) => note.repeat == repeat,
        }
    }
}

/// On which notes a mistake happens.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Happens {
    /// On none.
    #[default]
    Never,
    /// On each note with this chance, 0 to 1 (values outside count as the nearer end, NaN as 0).
    Chance(f64),
    /// On exactly these notes, by [`GridNote::index`], in every pass that reaches them.
    At(Vec<usize>),
}

impl Happens {
    /// Whether it happens on this note, given a draw from [0, 1).
    pub(crate) fn on(&self, index: usize, draw: f64) -> bool {
        match self {
            Self::Never => false,
            Self::Chance(p) => draw < *p,
            Self::At(list) => list.contains(&index),
        }
    }
}

/// One stretch of playing in a take: a whole pass, or one broken off or taken up in the middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pass {
    /// The first note played, by [`GridNote::index`].
    pub first: usize,
    /// How many notes are played from there; beyond the drill's end there are none.
    pub notes: usize,
    /// Silence (or talk, see [`crate::Sound::talk`]) before it; for the first pass it is added to the lead-in.
    pub pause: Seconds,
    /// This many notes of free playing, in no time at all, fill the pause.
    pub noodling: usize,
}

impl Pass {
    /// The whole drill, at once.
    pub const WHOLE: Self = Self { first: 0, notes: usize::MAX, pause: Seconds(0.0), noodling: 0 };
}

/// How a drill is played. `Player::default()` is a steady player: 4 ms of spread, no fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Player {
    /// Everything random follows from it.
    pub seed: u64,
    /// Before the first note.
    pub lead_in: Seconds,
    /// After the last note's end.
    pub tail: Seconds,
    /// Tempo played over the drill's tempo; 1.02 is steadily 2 % faster. 0.1 to 10.
    pub tempo_factor: f64,
    /// Relative tempo change from a pass's start to its end, evenly over the drill's beats; 0.04 ends 4 % faster.
    pub tempo_change: f64,
    /// SD of every note's own deviation (normal, independent).
    pub spread: Millis,
    /// Growth of all spreads, linear in time over a pass: SD at the end = (1 + fatigue) times SD at the start.
    pub fatigue: f64,
    /// SD of a slow wander that neighbouring notes share (first-order autoregressive, correlation 0.95 a note).
    pub wander: Millis,
    /// SD of a repeatable deviation that each place of the line has of its own, the same in every repeat.
    pub place_spread: Millis,
    /// Notes that come early (-) or late (+) by a constant; those of several matching entries add up.
    pub biases: Vec<(Selector, Millis)>,
    /// Further independent spread, as SD of its own; variances add up.
    pub loose: Vec<(Selector, Millis)>,
    /// Chance of a slip: a single note off by one to two times `slip_size`, to either side.
    pub slips: f64,
    /// See `slips`.
    pub slip_size: Millis,
    /// How long a left string sounds on after the next string's attack, until it is 20 dB down. Negative: it is
    /// damped before.
    pub ring: Millis,
    /// Added to `ring` where the arriving note matches.
    pub smears: Vec<(Selector, Millis)>,
    /// SD of level from note to note, dB.
    pub level_spread: Decibels,
    /// Level changes; several matching entries add up.
    pub levels: Vec<(Selector, Decibels)>,
    /// Notes not sounded at all.
    pub missed: Happens,
    /// Notes fretted one or two frets off.
    pub wrong: Happens,
    /// A full note too many after these notes, about half way to the next.
    pub extra: Happens,
    /// A neighbouring open string brushed after these notes.
    pub brushed: Happens,
    /// Soft strokes: 8 dB quieter, with a slow edge of 1.5 to 3 ms.
    pub soft: Happens,
    /// The stretches played, in order; empty means the whole drill once.
    pub passes: Vec<Pass>,
}

impl Default for Player {
    fn default() -> Self {
        Self {
            seed: 1,
            lead_in: Seconds(0.8),
            tail: Seconds(0.7),
            tempo_factor: 1.0,
            tempo_change: 0.0,
            spread: Millis(4.0),
            fatigue: 0.0,
            wander: Millis(0.0),
            place_spread: Millis(0.0),
            biases: Vec::new(),
            loose: Vec::new(),
            slips: 0.0,
            slip_size: Millis(0.0),
            ring: Millis(15.0),
            smears: Vec::new(),
            level_spread: Decibels(1.5),
            levels: Vec::new(),
            missed: Happens::Never,
            wrong: Happens::Never,
            extra: Happens::Never,
            brushed: Happens::Never,
            soft: Happens::Never,
            passes: Vec::new(),
        }
    }
}

/// Non-finite counts as 0.
pub(crate) fn finite(x: f64) -> f64 {
    if x.is_finite() { x } else { 0.0 }
}

/// The sum over the entries that match.
pub(crate) fn of_matching<T: Copy>(entries: &[(Selector, T)], note: &GridNote, value: impl Fn(T) -> f64) -> f64 {
    entries.iter().filter(|e| e.0.matches(note)).map(|e| finite(value(e.1))).sum()
}
