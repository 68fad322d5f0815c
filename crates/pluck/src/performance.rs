//! What was played, exactly: the answers that a measurement is held against, and the list of everything that sounds.

use takegauge_drill::{Change, GridNote, Sounding, Stroke};
use takegauge_units::{Decibels, Hertz, MidiKey, Millis, Seconds};

/// What became of a note that the drill asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// Sounded as asked.
    Played,
    /// Not sounded.
    Missed,
    /// Sounded at another pitch.
    WrongPitch,
}

/// One note of the drill in one pass, and the truth about it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlayedNote {
    /// Which stretch of playing, from 0.
    pub pass: usize,
    /// [`GridNote::index`].
    pub index: usize,
    /// [`GridNote::repeat`].
    pub repeat: usize,
    /// [`GridNote::position`].
    pub position: usize,
    /// Where the beat is, in the take's time, at the tempo that is played.
    pub grid: Seconds,
    /// The attack, in the take's time; `None` where it was missed.
    pub played: Option<Seconds>,
    /// What became of it.
    pub status: Status,
    /// The string asked for.
    pub string: u8,
    /// The fret that was held (off by one or two where the pitch is wrong).
    pub fret: u8,
    /// The pitch that sounded, or should have.
    pub key: MidiKey,
    /// The stroke used; `None` on legato notes.
    pub stroke: Option<Stroke>,
    /// The string change that it arrives by.
    pub change: Option<Change>,
    /// How long the string left sounds on after this attack, until it is 20 dB down; `None` on the same string,
    /// after silence, and where this note or the one before was missed.
    pub overlap: Option<Millis>,
}

impl PlayedNote {
    /// Played minus grid, + is late; `None` where missed.
    pub fn deviation(&self) -> Option<Millis> {
        self.played.map(|p| (p - self.grid).millis())
    }
}

/// Why a note sounds that the drill did not ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ExtraKind {
    /// A full note too many.
    Extra,
    /// A neighbouring string brushed.
    Brushed,
    /// Free playing between passes.
    Noodling,
}

/// A note that the drill did not ask for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExtraNote {
    /// Its attack.
    pub at: Seconds,
    /// Why.
    pub kind: ExtraKind,
    /// What it sounds.
    pub key: MidiKey,
    /// [`GridNote::index`] of the note it follows; `None` for free playing.
    pub after_index: Option<usize>,
}

/// One stretch of playing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassPlayed {
    /// Where its first grid note is.
    pub offset: Seconds,
    /// Where its last note ends.
    pub end: Seconds,
    /// The first note, by [`GridNote::index`].
    pub first: usize,
    /// Notes played or meant to be.
    pub notes: usize,
}

/// How one pluck is made: drawn once, so that every recording of a performance has the same hands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Touch {
    /// Peak level against a usual note.
    pub level: Decibels,
    /// How long the string takes to come off the pick.
    pub release: Millis,
    /// Where the pick meets the string, as a part of its sounding length from the bridge, 0.05 to 0.3.
    pub place: f64,
    /// Brightness, -1 (dark) to 1 (bright).
    pub brightness: f64,
    /// The pick rests on the string for so long before it lets go.
    pub contact: Millis,
    /// Seeds what is left of the variety of this note.
    pub grain: u32,
}

/// A string stops sounding: 20 dB down at an instant, reached along a straight line in dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Damping {
    /// When it is 20 dB down.
    pub down_20_db: Seconds,
    /// How long the fall to there takes.
    pub fall: Seconds,
}

/// One string set sounding.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// The attack: the -20 dB point of its leading edge in isolation.
    pub at: Seconds,
    /// The string.
    pub string: u8,
    /// What it sounds.
    pub frequency: Hertz,
    /// Picked or legato.
    pub sounding: Sounding,
    /// Choked by the fretting hand: hardly a pitch.
    pub dead: bool,
    /// Palm on the bridge.
    pub palm_muted: bool,
    /// The pluck.
    pub touch: Touch,
    /// The fretting hand leaves, or the next note on this string needs it.
    pub hand_damps: Damping,
    /// The pick comes back to this string.
    pub pick_damps: Option<Damping>,
}

/// A click that the player hears: every beat of every pass, and one bar before where there is room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beat {
    /// When.
    pub at: Seconds,
    /// The first of a bar.
    pub accented: bool,
}

/// A take before it is sound.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Performance {
    /// Every note asked for, pass by pass.
    pub notes: Vec<PlayedNote>,
    /// What sounds besides, in time order.
    pub extras: Vec<ExtraNote>,
    /// The stretches of playing.
    pub passes: Vec<PassPlayed>,
    /// Everything that sounds, in the order of attacks.
    pub events: Vec<Event>,
    /// The click.
    pub beats: Vec<Beat>,
    /// Where nobody plays between passes, from and to.
    pub pauses: Vec<(Seconds, Seconds)>,
    /// Tempo as played at the start of a pass over the drill's.
    pub tempo_factor: f64,
    /// Of the take.
    pub length: Seconds,
}

impl Performance {
    /// All attack instants in order, extra notes included; strings struck together count once.
    pub fn attacks(&self) -> Vec<Seconds> {
        let mut all: Vec<f64> = self.notes.iter().filter_map(|n| n.played.map(|p| p.0)).collect();
        all.extend(self.extras.iter().map(|e| e.at.0));
        all.sort_by(f64::total_cmp);
        all.into_iter().map(Seconds).collect()
    }
}

/// The part of a note's record that comes from the drill.
pub(crate) fn asked(note: &GridNote, pass: usize, grid: Seconds) -> PlayedNote {
    PlayedNote {
        pass,
        index: note.index,
        repeat: note.repeat,
        position: note.position,
        grid,
        played: None,
        status: Status::Missed,
        string: note.string(),
        fret: note.fret(),
        key: note.keys.first().copied().unwrap_or(MidiKey(0)),
        stroke: note.stroke,
        change: note.change,
        overlap: None,
    }
}
