//! What a drill is, once read, and what it asks for note by note.
//!
//! Strings are numbered by place: 1 is nearest the floor for a usually strung player (the thinnest on a guitar).
//! "Toward 1" means to a smaller number.

#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_units::{Bpm, Hertz, MidiKey, Seconds};

/// The direction of a pick stroke: down is toward the floor, that is toward string 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Stroke {
    /// Toward the floor.
    Down,
    /// Away from it.
    Up,
}

impl Stroke {
    /// Whether it moves from one string toward the other: down is toward string 1.
    pub(crate) fn goes_toward(self, from: u8, to: u8) -> bool {
        (self == Self::Down) == (to < from)
    }

    /// The opposite stroke.
    pub fn other(self) -> Self {
        match self {
            Self::Down => Self::Up,
            Self::Up => Self::Down,
        }
    }

    /// Its name in JSON and drill files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Down => "down",
            Self::Up => "up",
        }
    }
}

/// How strokes are chosen where the line does not write them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Picking {
    /// Down and up in turn over the picked notes.
    Alternate,
    /// Alternate on a string; sweeps to an adjacent string where the direction allows.
    Economy,
    /// Downstrokes only.
    Down,
    /// Every picked note carries its stroke.
    Written,
}

/// What the hand does over a rest or a held note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum AfterGap {
    /// The next picked note takes the next stroke, as if there had been no gap.
    Next,
    /// The hand keeps moving through the gap, once per greatest common distance of the picked notes.
    Hand,
    /// The first note after the gap takes the first stroke again.
    Restart,
}

/// How a note is sounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sounding {
    /// By the pick.
    Picked,
    /// By the fretting hand coming down; sounds, no pick.
    HammerOn,
    /// By the fretting hand leaving; sounds, no pick.
    PullOff,
}

/// A place on the neck: string by place (1 = nearest the floor), fret counted from the capo (0 is open).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Fingered {
    /// 1 to 9.
    pub string: u8,
    /// 0 to 36.
    pub fret: u8,
}

/// One note of the line as written, its marks included. Several [`Fingered`] are struck together (one attack).
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct LineNote {
    /// What is fingered, in the order written; one, or several struck together.
    pub fingered: Vec<Fingered>,
    /// Picked or legato.
    pub sounding: Sounding,
    /// A stroke written on the note.
    pub written_stroke: Option<Stroke>,
    /// `>`
    pub accent: bool,
    /// `x`: an attack without a pitch.
    pub dead: bool,
    /// `m`
    pub palm_muted: bool,
    /// `r`: the way back of an aimed drill; played, not counted as a test of a change.
    pub way_back: bool,
}

/// One position of the line.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Step {
    /// A note or several struck together.
    Note(LineNote),
    /// `-`: silence.
    Silent,
    /// `~`: the last note held a step longer.
    Held,
}

/// Sounding pitches of the open strings, capo not counted.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Tuning {
    /// In file order: low string first; string number = `len() - position`.
    pub open: Vec<MidiKey>,
}

impl Tuning {
    /// The open string's pitch; `None` where the tuning has no such string.
    pub fn string(&self, number: u8) -> Option<MidiKey> {
        self.open.len().checked_sub(usize::from(number)).and_then(|i| self.open.get(i)).copied()
    }
}

/// Which way a change goes for the pick (common practice in the trade, no single source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub enum ChangeKind {
    /// The leaving stroke goes toward the new string: the pick passes over it and comes back.
    #[serde(rename = "outside")]
    Outside,
    /// The pick comes back over the string just played.
    #[serde(rename = "inside")]
    Inside,
    /// Equal strokes, adjacent strings, toward the new string: one motion through both.
    #[serde(rename = "sweep")]
    Sweep,
    /// Equal strokes otherwise.
    #[serde(rename = "same-stroke")]
    SameStroke,
}

impl ChangeKind {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Outside, Self::Inside, Self::Sweep, Self::SameStroke];

    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Outside => "outside",
            Self::Inside => "inside",
            Self::Sweep => "sweep",
            Self::SameStroke => "same-stroke",
        }
    }
}

/// A change of string, standing on the note that arrives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Change {
    /// The string left.
    pub from: u8,
    /// The string reached.
    pub to: u8,
    /// `None` where a legato note is on either side, or a chord: the pick made no single move between two strings.
    pub kind: Option<ChangeKind>,
    /// The last stroke on the string left.
    pub leaves_on: Option<Stroke>,
    /// One string away.
    pub adjacent: bool,
    /// The two notes lie further apart than the line's usual distance: no test of a change.
    pub after_gap: bool,
}

/// What the drill asks for at one note, over all repeats.
#[derive(Debug, Clone, PartialEq)]
pub struct GridNote {
    /// Counts picked and legato notes in order over all repeats, rests excluded; from 0.
    pub index: usize,
    /// Which time the line is played, from 0.
    pub repeat: usize,
    /// The step in the line, rests counted, from 0.
    pub position: usize,
    /// Time from the drill's first step at the drill's own tempo, swing included.
    pub expected: Seconds,
    /// What is fingered; one, or several struck together (the first stands for the note in tables).
    pub fingered: Vec<Fingered>,
    /// Sounding pitches at A4 = `Drill::a4`, capo counted, same order as `fingered`.
    pub keys: Vec<MidiKey>,
    /// Picked or legato; only picked notes are judged for timing.
    pub sounding: Sounding,
    /// `None` on legato notes.
    pub stroke: Option<Stroke>,
    /// Set where the string differs from the note before (the seam between repeats included).
    pub change: Option<Change>,
    /// The note comes later after the one before it than the line's usual distance.
    pub after_gap: bool,
    /// Accented.
    pub accent: bool,
    /// No pitch to check.
    pub dead: bool,
    /// Palm-muted.
    pub palm_muted: bool,
    /// The way back of an aimed drill: played, not counted in a change group.
    pub way_back: bool,
    /// Notes picked in a row on this string, this one included in the run: (place from 0, length of the run).
    pub in_run: (u16, u16),
    /// How long the note is to sound (steps it is held), at the drill's tempo.
    pub lasts: Seconds,
}

impl GridNote {
    /// The first fingered place's string, 1 where there is none (a note always has one).
    pub fn string(&self) -> u8 {
        self.fingered.first().map_or(1, |f| f.string)
    }

    /// The first fingered place's fret.
    pub fn fret(&self) -> u8 {
        self.fingered.first().map_or(0, |f| f.fret)
    }

    /// Whether the pick strikes it, so that its timing is judged.
    pub fn picked(&self) -> bool {
        self.sounding == Sounding::Picked
    }
}

/// A drill file, read and checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Drill {
    /// As the player calls it.
    pub name: String,
    /// Quarter notes a minute, 20 to 400.
    pub tempo: Bpm,
    /// Grid positions a beat, 1 to 12.
    pub steps_per_beat: u8,
    /// Beats a bar, 1 to 32.
    pub beats_per_bar: u8,
    /// What note value a beat is: 4 a quarter note (the default), 8 an eighth, 2 a half.
    pub beat_unit: u8,
    /// Steps before the first bar line, 0 where the line starts on a first beat.
    pub pickup_steps: u16,
    /// Times the line is played end to end, 1 to 1,000.
    pub repeats: u32,
    /// Open strings.
    pub tuning: Tuning,
    /// How strokes are chosen.
    pub picking: Picking,
    /// The first picked note's stroke.
    pub first_stroke: Stroke,
    /// What the hand does over a gap.
    pub after_gap: AfterGap,
    /// Per cent of a pair of steps that the first one takes; 50 is straight.
    pub swing: f64,
    /// Pitch of A4.
    pub a4: Hertz,
    /// Fret of the capo, 0 none.
    pub capo: u8,
    /// Free text.
    pub note: String,
    /// The line, step by step.
    pub line: Vec<Step>,
    /// Bar lines as written: each stands before the step of that position.
    pub bars: Vec<usize>,
    /// Where the line changes its subdivision (`/3`): from the step of that position on, so many steps a beat.
    /// Ascending; at most one a position.
    pub divisions: Vec<(usize, u8)>,
}

impl LineNote {
    /// A picked note without marks, its stroke left to [`Drill::picking`].
    pub fn picked(fingered: Vec<Fingered>) -> Self {
        Self {
            fingered,
            sounding: Sounding::Picked,
            written_stroke: None,
            accent: false,
            dead: false,
            palm_muted: false,
            way_back: false,
        }
    }
}

impl Drill {
    /// A drill in four steps a beat, without a line, and with what a drill file that leaves out every other key has.
    pub fn plain(name: String, tempo: Bpm, tuning: Tuning) -> Self {
        Self {
            name,
            tempo,
            steps_per_beat: 4,
            beats_per_bar: 4,
            beat_unit: 4,
            pickup_steps: 0,
            repeats: 1,
            tuning,
            picking: Picking::Alternate,
            first_stroke: Stroke::Down,
            after_gap: AfterGap::Next,
            swing: 50.0,
            a4: Hertz(440.0),
            capo: 0,
            note: String::new(),
            line: Vec::new(),
            bars: Vec::new(),
            divisions: Vec::new(),
        }
    }
}
