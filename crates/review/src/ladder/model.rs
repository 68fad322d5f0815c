//! The report of one drill at rising tempos, as data: JSON shape `takegauge/ladder/1`.

use crate::group_key::GroupKey;
use crate::score::Unit;
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The value of `schema`.
pub const LADDER_SCHEMA: &str = "takegauge/ladder/1";

/// One drill at several tempos: which kind of note comes apart, and where.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct LadderReport {
    /// [`LADDER_SCHEMA`].
    #[cfg_attr(feature = "schemas", schemars(extend("const" = LADDER_SCHEMA)))]
    pub schema: String,
    /// The drill's name.
    pub drill: String,
    /// In the order played.
    pub takes: Vec<LadderTake>,
    /// The tempos, rising; takes within 1.5 % of one another are one tempo.
    pub tempos: Vec<LadderTempo>,
    /// One a group of notes.
    pub groups: Vec<LadderGroupRow>,
    /// The highest tempo whose exact upper 95 % limit of the note error rate is below 5 in 100.
    pub clean_up_to_bpm: Option<f64>,
    /// The answer to "which change, from which tempo" in one sentence.
    #[serde(default)]
    pub headline: String,
    /// In plain words: what was found, what cannot be told, what to record next; the headline first.
    pub remarks: Vec<String>,
    /// What to heed where ceilings and tiredness are spoken of.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub cautions: Vec<String>,
}

/// One take of the ladder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct LadderTake {
    /// As the user named it.
    pub path: String,
    /// As played.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
    /// Notes a second at that tempo.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub notes_a_second: f64,
    /// Whether its exact upper 95 % limit of the note error rate is below 5 in 100.
    pub clean: bool,
    /// Notes reached.
    pub notes: usize,
    /// Missed, wrong and extra notes.
    pub errors: usize,
    /// Scatter of the whole take, ms.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub spread_ms: Option<f64>,
}

/// One tempo, its takes pooled.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct LadderTempo {
    /// Mean over its takes.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
    /// Takes at it.
    pub takes: usize,
    /// Notes reached.
    pub notes: usize,
    /// Missed, wrong and extra notes.
    pub errors: usize,
    /// Exact one-sided upper 95 % limit of errors in 100 notes.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub at_most_in_100: Option<f64>,
}

/// One group against tempo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct LadderGroupRow {
    /// Which notes.
    pub group: GroupKey,
    /// As a player reads it.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub label: String,
    /// One a tempo, rising.
    pub by_tempo: Vec<AtTempo>,
    /// The tempo at which it comes apart.
    pub comes_apart_bpm: Option<f64>,
    /// 95 % interval.
    pub comes_apart_ci95_bpm: Option<[f64; 2]>,
    /// What comes apart.
    pub measure: ComesApart,
    /// Corrected over all groups tried.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0, max = 1.0)))]
    pub p_adjusted: Option<f64>,
    /// How wide the deviations lie about the group's own mean at the highest tempo, over how wide they lie below the
    /// hinge, both against the same string. Unlike `spread_ms` it holds what differs from place to place of the line.
    pub spread_at_top: Option<f64>,
    /// Whether the tempos reach well to both sides of the hinge.
    pub bracketed: Option<bool>,
    /// Mean against the reference at the highest tempo, as the fit has it, ms.
    #[serde(default)]
    pub late_at_top_ms: Option<f64>,
    /// How much of it the tempo brings: at the top less below the hinge, ms.
    #[serde(default)]
    pub later_by_ms: Option<f64>,
    /// Its 95 % interval at this hinge.
    #[serde(default)]
    pub later_by_ci95_ms: Option<[f64; 2]>,
    /// Whether it comes apart all at once between two tempos rather than more and more.
    #[serde(default)]
    pub at_once: bool,
    /// Groups that fit as well, those with the same notes first.
    #[serde(default)]
    pub or_also: Vec<GroupKey>,
    /// Where it is not said to come apart: the lateness at the top, growing from the middle tempo on, that these takes
    /// would have shown with a chance of 80 %, ms.
    #[serde(default)]
    pub could_show_late_ms: Option<f64>,
    /// Mean against the reference over all tempos, ms; takes' own differences are in its interval.
    #[serde(default)]
    pub late_throughout_ms: Option<f64>,
    /// 95 % interval.
    #[serde(default)]
    pub late_throughout_ci95_ms: Option<[f64; 2]>,
    /// From where on it goes wrong more often than other notes do.
    #[serde(default)]
    pub mistakes: Option<LadderHinge>,
    /// From where on the string left rings longer.
    #[serde(default)]
    pub ringing: Option<LadderHinge>,
    /// Why nothing is said, where nothing is.
    pub withheld: Option<String>,
}

/// From which tempo on a figure grows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct LadderHinge {
    /// The tempo.
    pub from_bpm: Option<f64>,
    /// 95 % interval.
    pub from_ci95_bpm: Option<[f64; 2]>,
    /// The figure up to there.
    pub below: Option<f64>,
    /// Beyond it.
    pub above: Option<f64>,
    /// Its unit.
    pub unit: Unit,
    /// Corrected over all groups tried.
    pub p_adjusted: f64,
}

/// What comes apart at a tempo, seen against the notes on the same string at the same tempo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub enum ComesApart {
    /// Late (or early) on average.
    #[serde(rename = "bias")]
    Bias,
    /// Scatter.
    #[serde(rename = "spread")]
    Spread,
    /// Both, not to be told apart or each by itself.
    #[serde(rename = "bias and spread")]
    BiasAndSpread,
}

/// A group at one tempo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct AtTempo {
    /// The tempo.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
    /// Notes with a time.
    pub n: usize,
    /// Scatter as in a take's report, ms: the SD about the mean of each place of the line in its take, slips left out,
    /// the detector's error taken off. `null` with fewer than 8 notes, or where it cannot be told from the detector's.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub spread_ms: Option<f64>,
    /// Its 95 % interval, ms; the lower end is `null` where it reaches 0, and the upper one then a one-sided limit.
    #[serde(default)]
    pub spread_ci95_ms: Option<[Option<f64>; 2]>,
    /// Mean against that of the notes on the same string (of all others, where the line has none), ms; `null` with
    /// fewer than 3 notes, and for the notes on the same string themselves.
    pub bias_ms: Option<f64>,
    /// Of them with strokes that are the drill's by assumption: a missed or extra note came before.
    pub unsure: usize,
    /// Missed, wrong and extra notes.
    pub errors: usize,
    /// Median ringing over, ms.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub smear_ms: Option<f64>,
}

/// Why takes make no ladder.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SeveralError {
    /// No take was given.
    #[error("no take was given")]
    NoTake,
    /// Takes of different drills.
    #[error("{path} is a take of another drill than the first one: takes that are compared must play one line")]
    OtherDrill {
        /// The first take that differs.
        path: String,
    },
}
