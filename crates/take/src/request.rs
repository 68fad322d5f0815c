//! What to score, and how.

use std::path::{Path, PathBuf};
use takegauge_audio::{ChannelChoice, Recording};
use takegauge_drill::Drill;
use takegauge_units::{Bpm, Millis, Seconds};

/// Where the click of a take is, if it was played to one.
#[derive(Debug, Clone)]
pub enum Click {
    /// No click: offset and tempo are fitted.
    None,
    /// The drill's first beat is this long after the file's start.
    Start(Seconds),
    /// The click is on another channel of the take.
    Channel(ChannelChoice),
    /// The click is in a file that starts with the take.
    File(PathBuf),
}

/// A value that no request takes: what it is, and what is allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{value}: {allowed}")]
pub struct NotAllowed {
    value: f64,
    allowed: &'static str,
}

/// A tempo to seek, in quarter notes a minute.
///
/// # Errors
/// Outside 20 to 400.
pub fn tempo(bpm: f64) -> Result<Bpm, NotAllowed> {
    match bpm {
        20.0..=400.0 => Ok(Bpm(bpm)),
        value => Err(NotAllowed { value, allowed: "a tempo is 20 to 400 quarter notes a minute" }),
    }
}

/// A click whose first beat is so many seconds after the file's start.
///
/// # Errors
/// Below 0, or no number.
pub fn click_start(seconds: f64) -> Result<Click, NotAllowed> {
    if seconds.is_finite() && seconds >= 0.0 {
        return Ok(Click::Start(Seconds(seconds)));
    }
    let allowed = "give the time of the first beat in seconds from the file's start";
    Err(NotAllowed { value: seconds, allowed })
}

/// Delays beyond this are no set-up's.
const MOST_DELAY_MS: f64 = 2000.0;

/// A set-up's measured delay, in milliseconds.
///
/// # Errors
/// Beyond 2 s either way, or no number.
pub fn delay(ms: f64) -> Result<Millis, NotAllowed> {
    if ms.abs() <= MOST_DELAY_MS {
        return Ok(Millis(ms));
    }
    Err(NotAllowed { value: ms, allowed: "a delay is at most 2000 ms" })
}

/// A take to score, and how.
#[derive(Debug, Clone)]
pub struct Request<'a> {
    /// The recording.
    pub take: Recording<'a>,
    /// What it was called where it came from, if its file here has another name: a tempo may stand in it.
    pub name: Option<&'a Path>,
    /// What was to be played.
    pub drill: &'a Drill,
    /// Which channel the playing is on.
    pub channel: ChannelChoice,
    /// The tempo to seek first.
    pub tempo: Option<Bpm>,
    /// What becomes of notes after a slip, whose strokes are assumed.
    pub after_slip: takegauge_review::AfterSlip,
    /// To a click or not.
    pub click: Click,
    /// The set-up's measured delay, for a take to a click.
    pub delay: Option<Millis>,
    /// Of every random choice in the statistics.
    pub seed: u64,
    /// Keep the outline of the waveform in the report.
    pub waveform: bool,
}

impl<'a> Request<'a> {
    /// A take and its drill, everything else as it is where nothing is said: seed 1, no click, no waveform.
    pub fn new(take: impl Into<Recording<'a>>, drill: &'a Drill) -> Self {
        Self {
            take: take.into(),
            name: None,
            drill,
            channel: ChannelChoice::Auto,
            tempo: None,
            after_slip: takegauge_review::AfterSlip::Keep,
            click: Click::None,
            delay: None,
            seed: 1,
            waveform: false,
        }
    }

    /// What the take is called: a tempo may stand in it.
    pub(crate) fn called(&self) -> &'a Path {
        self.name.unwrap_or(self.take.path())
    }

    /// The channel to listen to: with a click on one side of a stereo take the playing is on the other, unless another
    /// channel was named.
    pub(crate) fn playing(&self) -> ChannelChoice {
        match (self.channel, &self.click) {
            (ChannelChoice::Auto, Click::Channel(ChannelChoice::Left | ChannelChoice::Number(1))) => {
                ChannelChoice::Right
            }
            (ChannelChoice::Auto, Click::Channel(_)) => ChannelChoice::Left,
            (channel, _) => channel,
        }
    }
}
