//! What alignment is given and what it says.

#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_drill::GridNote;
use takegauge_units::{Bpm, MidiKey, Millis, Seconds};

/// Where the time line of the grid comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Timebase {
    /// Offset and tempo are fitted to the playing, pass by pass.
    Steady,
    /// The beats of a click are given, in the take's own time, rising; beat 0 is the drill's first beat. Beyond the
    /// last one the grid goes on at the last distance; a pass may start at any bar of it.
    Click(Vec<Seconds>),
}

/// What is known before listening.
#[derive(Debug, Clone)]
pub struct Options {
    /// `--tempo`: sought first, before the file name's, the drill's, and then any from 40 to 320.
    pub tempo: Option<Bpm>,
    /// A number in the file's name that may be a tempo.
    pub tempo_in_name: Option<Bpm>,
    /// Steady or to a click.
    pub timebase: Timebase,
}

/// What became of a note of the drill in one pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// Heard, at a pitch that may be the expected one.
    Played,
    /// Reached, not heard.
    Missed,
    /// Heard at another pitch.
    WrongPitch,
    /// Legato, not heard: no verdict.
    NotJudged,
    /// The pass ended (or began) elsewhere.
    NotReached,
}

/// One note of the drill in one pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// Index into the grid.
    pub index: usize,
    /// What became of it.
    pub status: Status,
    /// Index into the attacks given, where one was matched.
    pub attack: Option<usize>,
    /// Where the fitted grid puts it, in the take's time.
    pub expected: Seconds,
    /// When it was played, in the take's time; set exactly where `attack` is.
    pub played: Option<Seconds>,
    /// One standard deviation of `played`.
    pub uncertainty: Option<Millis>,
    /// The pitch heard where it is known and differs, or confirms.
    pub heard: Option<MidiKey>,
}

/// One time through the drill, whole or broken off.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// Where the drill's first step falls (or would fall), in the take's time.
    pub offset: Seconds,
    /// Tempo as played.
    pub tempo: Bpm,
    /// First and last attack of the pass.
    pub from: Seconds,
    /// See `from`.
    pub to: Seconds,
    /// Every grid note, in order of `index`.
    pub notes: Vec<Placed>,
    /// Notes before which the player hesitated and went on, by `index`, rising: the grid keeps its tempo there and
    /// starts anew.
    pub anew: Vec<usize>,
    /// In click mode, the beat of the click on which the drill's first step falls (or would fall).
    pub click_beat: Option<i64>,
}

/// An attack inside a pass that is no note of the drill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extra {
    /// Index into the attacks given.
    pub attack: usize,
    /// The grid note it follows; `None` before the first.
    pub after_index: Option<usize>,
    /// Which pass it lies in, index into `passes`.
    pub pass: usize,
}

/// A stretch that belongs to no pass: talk, noodling, a start broken off.
#[derive(Debug, Clone, PartialEq)]
pub struct SetAside {
    /// In the take's time.
    pub from: Seconds,
    /// In the take's time.
    pub to: Seconds,
    /// In plain words.
    pub why: String,
}

/// Which of the places sought gave the tempo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum TempoFrom {
    /// Given by the user.
    Given,
    /// A number in the file's name.
    #[serde(rename = "file name")]
    FileName,
    /// The drill's own.
    Drill,
    /// Found freely.
    Sought,
    /// The click's.
    Click,
}

/// The whole answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Alignment {
    /// In the order played; at least one.
    pub passes: Vec<Pass>,
    /// In the order heard.
    pub extra: Vec<Extra>,
    /// Attacks below the blind threshold between the notes: no extras, unless a second look at the audio finds that a
    /// string was struck. In the order heard.
    pub faint: Vec<Extra>,
    /// In the order heard.
    pub set_aside: Vec<SetAside>,
    /// How far the guitar as a whole is off the drill's pitch, in cents; pitches are judged after taking it off.
    pub cents_off: f64,
    /// Where the tempo came from.
    pub tempo_from: TempoFrom,
    /// What the reader should know, in plain words.
    pub remarks: Vec<String>,
}

/// Why a take could not be aligned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AlignError {
    /// The take holds no attack.
    #[error("no attack was heard in the take; check that it is the right file and channel")]
    NothingHeard,
    /// The drill has no picked note.
    #[error("the drill has no picked note, so there is nothing to align")]
    EmptyGrid,
    /// No reading of the take as this drill covers enough of it.
    #[error(
        "the take does not fit the drill: the best match covers {covered} of {notes} notes; is it the right drill, tuning and tempo?"
    )]
    NoFit {
        /// Notes of the drill that found an attack of their pitch.
        covered: usize,
        /// Notes of the drill.
        notes: usize,
    },
    /// Whoever waited for it asked for an end.
    #[error("stopped before it was done")]
    Stopped,
    /// A click grid with fewer than two beats, or not rising.
    #[error("the click has {beats} usable beats; at least two in rising order are needed")]
    BadClick {
        /// How many were found.
        beats: usize,
    },
}

/// Placed notes with their grid notes, for rooms further down.
pub fn with_grid<'a>(pass: &'a Pass, grid: &'a [GridNote]) -> impl Iterator<Item = (&'a Placed, &'a GridNote)> {
    pass.notes.iter().filter_map(|p| grid.get(p.index).map(|g| (p, g)))
}
