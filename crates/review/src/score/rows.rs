//! Rows of the report: notes, extra attacks, stretches set aside, passes, the waveform.

#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_align::Status;
use takegauge_drill::{ChangeKind, Stroke};

/// A change of string, on the note that arrives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct ChangeOfNote {
    /// String left.
    #[cfg_attr(feature = "schemas", schemars(range(min = 1, max = 9)))]
    pub from: u8,
    /// String reached.
    #[cfg_attr(feature = "schemas", schemars(range(min = 1, max = 9)))]
    pub to: u8,
    /// `null` where a legato note or a chord stands on either side.
    pub kind: Option<ChangeKind>,
    /// The stroke that leaves.
    pub leaves_on: Option<Stroke>,
    /// One string away.
    pub adjacent: bool,
    /// After a rest or held note: no test of a change.
    pub after_gap: bool,
}

/// One of `notes`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[cfg_attr(feature = "schemas", schemars(extend(
    "if" = {"properties": {"played_s": {"type": "number"}}},
    "then" = {"properties": {"deviation_ms": {"type": "number"}, "uncertainty_ms": {"type": "number"}}},
    "else" = {"properties": {"deviation_ms": {"type": "null"}}}
)))]
pub struct NoteRow {
    /// 0.. over all repeats, the same for every take of a drill.
    pub index: usize,
    /// Which time the line is played.
    pub repeat: usize,
    /// Step in the line.
    pub position: usize,
    /// Pass, from 0.
    pub pass: usize,
    /// What became of it.
    pub status: Status,
    /// Where the grid puts it.
    pub expected_s: f64,
    /// When it was heard.
    pub played_s: Option<f64>,
    /// Played minus expected; there whenever `played_s` is.
    pub deviation_ms: Option<f64>,
    /// Deviation from the pass's smooth local tempo.
    pub local_deviation_ms: Option<f64>,
    /// One standard deviation of `played_s`.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub uncertainty_ms: Option<f64>,
    /// How long after `played_s` the sound rises most: a second reference for the note's time, signed.
    #[serde(default)]
    pub rise_ms: Option<f64>,
    /// 1 = nearest the floor.
    #[cfg_attr(feature = "schemas", schemars(range(min = 1, max = 9)))]
    pub string: u8,
    /// From the capo.
    pub fret: u8,
    /// Sounding pitch.
    #[cfg_attr(feature = "schemas", schemars(range(max = 127)))]
    pub midi: u8,
    /// What was heard, where a pitch was.
    #[cfg_attr(feature = "schemas", schemars(range(max = 127)))]
    pub heard_midi: Option<u8>,
    /// The drill's stroke; `null` on legato notes.
    pub stroke: Option<Stroke>,
    /// Not after a missed or extra note, until the next gap or the next repeat without a slip: there the stroke is the
    /// drill's by assumption, and the note enters its groups all the same unless that was refused (`--after-slip drop`).
    pub stroke_sure: bool,
    /// `null` where the string stays.
    pub change: Option<ChangeOfNote>,
    /// Peak level after the attack, dBFS.
    pub level_db: Option<f64>,
    /// Ringing over of the string left.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub smear_ms: Option<f64>,
    /// Why `smear_ms` is withheld at a change.
    pub smear_withheld: Option<String>,
    /// The groups it enters, as places in the report's `groups`.
    #[serde(default)]
    pub groups: Vec<usize>,
}

/// One of `extra`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct ExtraRow {
    /// When.
    pub played_s: f64,
    /// Peak level, dBFS.
    pub level_db: f64,
    /// What pitch, where one was heard.
    #[cfg_attr(feature = "schemas", schemars(range(max = 127)))]
    pub heard_midi: Option<u8>,
    /// The note it follows; `null` before the first.
    pub after_index: Option<usize>,
    /// Pass, from 0.
    pub pass: usize,
}

/// One of `set_aside`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct SetAsideRow {
    /// From.
    pub from_s: f64,
    /// To.
    pub to_s: f64,
    /// In plain words.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub why: String,
}

/// `tool`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct ToolSection {
    /// Of takegauge.
    pub version: String,
    /// Of every random choice in this report.
    pub seed: u64,
}

/// One of `passes`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct PassRow {
    /// From 0.
    pub pass: usize,
    /// Where the drill's first step falls.
    pub offset_s: f64,
    /// As played.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
    /// First attack.
    pub from_s: f64,
    /// Last attack.
    pub to_s: f64,
    /// Notes between the first and the last one heard.
    pub notes_reached: usize,
    /// Of them heard and right.
    #[serde(default)]
    pub played: usize,
    /// Missed, wrong and extra notes.
    #[serde(default)]
    pub errors: usize,
    /// SD of the deviations about the means of their places in the whole take, slips pulled in, ms; `null` where places
    /// were played once or too few notes were heard.
    #[serde(default)]
    pub scatter_ms: Option<f64>,
}

/// Outline of the waveform.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct Waveform {
    /// One pair a step.
    pub step_s: f64,
    /// Lowest, in thousandths of full scale.
    pub low: Vec<i16>,
    /// Highest.
    pub high: Vec<i16>,
}
