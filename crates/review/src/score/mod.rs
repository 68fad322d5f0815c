//! The report of one take, as data: JSON shape `takegauge/score/1`.
//!
//! Field names carry units. Times are in the take's own seconds, deviations are played minus expected (+ is late).
//! Seconds are rounded to 1 us and milliseconds to 0.001 ms when a report is made, so that machines whose floating
//! point differs in the last digits write the same text. No number is NaN or infinite: it is `null`, with a reason
//! beside it. More fields may be added; none is renamed.

mod camera;
mod figure;
mod figures;
mod kinds;
mod rows;

pub use camera::*;
pub use figure::*;
pub use figures::*;
pub use kinds::*;
pub use rows::*;

#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_align::TempoFrom;
use takegauge_audio::Health;
use takegauge_drill::{Picking, Stroke};

/// The value of `schema`.
pub const SCORE_SCHEMA: &str = "takegauge/score/1";

/// Everything one take's report says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct ScoreReport {
    /// [`SCORE_SCHEMA`].
    #[cfg_attr(feature = "schemas", schemars(extend("const" = SCORE_SCHEMA)))]
    pub schema: String,
    /// What was read.
    pub take: TakeSection,
    /// What was asked.
    pub drill: DrillSection,
    /// The fitted time line of the longest pass.
    pub timebase: TimebaseSection,
    /// Pass by pass, then by index; a note that no pass reached is listed once.
    pub notes: Vec<NoteRow>,
    /// Attacks that are no note of the drill.
    pub extra: Vec<ExtraRow>,
    /// Stretches that belong to no pass.
    pub set_aside: Vec<SetAsideRow>,
    /// What made this report.
    pub tool: ToolSection,
    /// Recording health; `null` where it was not taken.
    pub recording: Option<Health>,
    /// What the reader should know.
    pub warnings: Vec<String>,
    /// One a pass.
    pub passes: Vec<PassRow>,
    /// The take in a few figures.
    pub summary: Summary,
    /// One a group of notes.
    pub groups: Vec<GroupRow>,
    /// One a pair of strings and kind of change.
    pub changes: Vec<ChangeRow>,
    /// Ranked, the one that fits best first.
    pub findings: Vec<FindingRow>,
    /// What was found but may be the instrument and not the hand: it does not hold by each note's steepest rise, or is what
    /// its strings do anyway. `text` says which.
    #[serde(default)]
    pub may_be_instrument: Vec<FindingRow>,
    /// Figures for the curious: timing split, evenness, circular measures; `null` with a reason where withheld.
    pub curious: Curious,
    /// What changes along the take.
    pub along: Along,
    /// Margin and reliability of the take as a whole.
    pub reliability: Reliability,
    /// What to practise next.
    pub plan: Vec<PlanItem>,
    /// How findings were sought and what they had to pass.
    pub search: SearchSection,
    /// What to heed where this report speaks of tiredness, ceilings or repetitions.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub cautions: Vec<String>,
    /// A film of the take, where one was named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub camera: Option<CameraSection>,
    /// Outline of the waveform for plots; left out of JSON unless asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub waveform: Option<Waveform>,
}

impl ScoreReport {
    /// Reads what was written as JSON. Rooms read it by this: each `serde_json::from_str` of it compiles all of its readers
    /// anew.
    ///
    /// # Errors
    ///
    /// The text is no report of this form.
    pub fn from_json(text: &str) -> serde_json::Result<Self> {
        serde_json::from_str(text)
    }
}

/// `take`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct TakeSection {
    /// As the user named it.
    pub path: String,
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// In the file.
    pub channels: u16,
    /// Which were listened to, in words.
    pub channel_used: String,
    /// Decoded length.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub duration_s: f64,
}

/// `drill`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct DrillSection {
    /// As its file says.
    pub name: String,
    /// Picked and legato notes over all repeats.
    pub notes: usize,
    /// Quarter notes a minute, as its file says.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
    /// Grid steps a beat.
    pub steps_per_beat: u8,
    /// Times the line is played.
    pub repeats: u32,
    /// "6=E2 ... 1=E4", with capo and A4 where they are not the usual.
    pub tuning: String,
    /// How strokes are chosen.
    pub picking: Picking,
    /// The first stroke, `--first-stroke` included.
    pub first_stroke: Stroke,
}

/// `timebase`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct TimebaseSection {
    /// Where the drill's first step falls in the take.
    pub offset_s: f64,
    /// As played.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
    /// Played over the drill's, in per cent, signed.
    pub tempo_error_pct: f64,
    /// What was asked for: by `--tempo` or the file's name; `null` where nothing was.
    #[serde(default)]
    pub asked_tempo_bpm: Option<f64>,
    /// Fitted to the playing, or to a click.
    pub mode: Mode,
    /// Where the tempo came from.
    pub tempo_from: TempoFrom,
    /// How far the guitar is off the drill's pitch.
    pub cents_off: f64,
    /// In click mode: played minus click on average, or the reason why it is withheld.
    pub from_click_ms: Option<f64>,
    /// Why `from_click_ms` is withheld.
    pub from_click_withheld: Option<String>,
}
