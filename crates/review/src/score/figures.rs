//! Figures of the report: estimates, groups, findings, plan.

use crate::figures::Figures;
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_drill::{ChangeKind, Stroke};

use super::figure::Figure;
use super::kinds::{Measure, Unit};
use crate::group_key::GroupKey;

/// `summary`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct Summary {
    /// Two plain sentences, and a third where it is doubtful that the drill was played.
    pub headline: Vec<String>,
    /// Picked notes reached, all passes.
    pub notes_reached: usize,
    /// Of those played.
    pub played: usize,
    /// Not heard.
    pub missed: usize,
    /// Heard at another pitch.
    pub wrong_pitch: usize,
    /// Attacks that are no note of the drill.
    pub extra: usize,
    /// Notes a second at the tempo played.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub notes_a_second: f64,
    /// Scatter within places of the line, the detector's variance taken off, ms.
    pub spread_ms: Figure,
    /// Notes left out of `spread_ms`, each further from its place than 4 MAD of all.
    #[serde(default)]
    pub slips: usize,
    /// The detector's own error that was taken off, ms.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub detector_sd_ms: f64,
    /// Scatter as it came, drift and detector included, ms.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub raw_sd_ms: Option<f64>,
    /// SD of inter-onset intervals of single-step neighbours, ms.
    pub ioi_sd_ms: Figure,
    /// "leaves on upstrokes 12, on downstrokes 0", as counts of the drill.
    pub leaves_on_up: usize,
    /// See `leaves_on_up`.
    pub leaves_on_down: usize,
    /// Notes after a slip, whose strokes are the drill's by assumption.
    #[serde(default)]
    pub strokes_assumed: usize,
    /// Share of a pair of steps that the first takes, per cent, where the drill is straight and the playing is not.
    #[serde(default)]
    pub swing_pct: Option<Figure>,
    /// Strokes, inside and outside are the drill's, and how many of them are assumed: said in every output.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub strokes_note: String,
}

/// One of `groups`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct GroupRow {
    /// Which notes.
    pub group: GroupKey,
    /// As a player reads it: "from string 3 to 2".
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub label: String,
    /// Its figures, as they are declared.
    #[serde(flatten)]
    pub figures: Figures,
    /// "1 note in 20 lands 31 ms or further from its place (limit 23 ms)"
    pub outside_text: Option<String>,
    /// Why figures are missing.
    pub withheld: Option<String>,
}

/// `search`: how findings were sought.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
// Reports stored before a field was added still read.
#[serde(default)]
pub struct SearchSection {
    /// Groups tried for timing, after merging those with the same notes.
    pub groups_tried: usize,
    /// Shuffles behind each corrected p-value.
    pub permutations: usize,
    /// A finding needs a corrected p-value of at most this.
    pub alpha: f64,
    /// What a difference must reach to be told, in words.
    pub gates: Vec<String>,
    /// From here on one shifted note can be heard at this speed, ms (Friberg & Sundberg 1995, J. Acoust. Soc. Am.
    /// 98:2524).
    pub hearing_limit_ms: Option<f64>,
    /// Why nothing was sought, where nothing was.
    pub withheld: Option<String>,
}

/// One of `changes`: the same figures for a pair of strings and kind of change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct ChangeRow {
    /// String left.
    #[cfg_attr(feature = "schemas", schemars(range(min = 1, max = 9)))]
    pub from: u8,
    /// String reached.
    #[cfg_attr(feature = "schemas", schemars(range(min = 1, max = 9)))]
    pub to: u8,
    /// Kind.
    pub kind: Option<ChangeKind>,
    /// The stroke that leaves.
    pub leaves_on: Option<Stroke>,
    /// One string away.
    pub adjacent: bool,
    /// The figures; `group` is "3>2 inside".
    #[serde(flatten)]
    pub row: GroupRow,
}

/// One of `findings`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct FindingRow {
    /// Which notes.
    pub group: GroupKey,
    /// What of them.
    pub measure: Measure,
    /// As a player reads the group: "from string 3 to 2".
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub label: String,
    /// How much.
    pub value: f64,
    /// Of `value`.
    pub unit: Unit,
    /// 95 % interval.
    pub ci95: Option<[f64; 2]>,
    /// Notes in the group.
    pub n: usize,
    /// Corrected over all groups tried.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0, max = 1.0)))]
    pub p_adjusted: Option<f64>,
    /// Whether one note shifted so much can be heard; `null` where that is not the question.
    pub above_hearing_limit: Option<bool>,
    /// One plain sentence.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub text: String,
    /// What to try, in words.
    pub advice: String,
    /// The notes to listen to.
    pub note_indices: Vec<usize>,
    /// Their times, s.
    pub note_times_s: Vec<f64>,
    /// Groups that fit as well.
    pub or_also: Vec<GroupKey>,
}

/// `curious`
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
// Reports stored before a field was added still read.
#[serde(default)]
pub struct Curious {
    /// Wing-Kristofferson, ms.
    pub timekeeper_sd_ms: Figure,
    /// Wing-Kristofferson, ms.
    pub motor_sd_ms: Figure,
    /// Variance behind `timekeeper_sd_ms`, signed: below 0 the model does not hold.
    pub timekeeper_variance_ms2: Figure,
    /// Variance behind `motor_sd_ms`, signed.
    pub motor_variance_ms2: Figure,
    /// What belongs with the split.
    pub note: String,
    /// Of inter-onset intervals, place means out.
    pub lag1: Figure,
    /// Normalised by nominal lengths.
    pub npvi: Figure,
    /// Mean resultant length of deviations around the step.
    pub resultant_length: Figure,
    /// SD of the places' means, ms (systematic profile).
    pub systematic_sd_ms: Figure,
    /// Within places, ms (trial to trial).
    pub trial_sd_ms: Figure,
}

/// `along`: what changes along the take.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
// Reports stored before a field was added still read.
#[serde(default)]
pub struct Along {
    /// Spread at the end over spread at the start.
    pub spread_ratio: Figure,
    /// ms a minute.
    pub bias_slope_ms_a_minute: Figure,
    /// Per cent a minute.
    pub tempo_slope_pct_a_minute: Figure,
    /// dB a minute.
    pub level_slope_db_a_minute: Figure,
    /// Where a change-point was found, s.
    pub change_point_s: Option<f64>,
    /// In words.
    pub text: Vec<String>,
}

/// `reliability`
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
// Reports stored before a field was added still read.
#[serde(default)]
pub struct Reliability {
    /// Missed, wrong and extra notes.
    pub errors: usize,
    /// Notes reached.
    pub notes: usize,
    /// Exact (Clopper-Pearson) one-sided upper 95 % limit of errors in 100 notes.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub at_most_in_100: Option<f64>,
    /// Repeats without an error.
    pub clean_repeats: usize,
    /// Repeats played whole.
    pub repeats: usize,
    /// Passes played whole.
    pub whole_passes: usize,
    /// In words.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub text: String,
}

/// One of `plan`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct PlanItem {
    /// What.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub what: String,
    /// Why.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub why: String,
    /// A drill file's text.
    pub drill_toml: String,
    /// A loop as tablature, line by line; empty where it is the whole line.
    #[serde(default)]
    pub tab: Vec<String>,
    /// Where to begin.
    pub start_bpm: f64,
    /// How far to go up at a time.
    pub step_bpm: f64,
    /// Bursts above the goal.
    pub burst_bpm: Option<f64>,
    /// When to stop.
    pub stop: String,
    /// How long to rest.
    pub rest: String,
}
