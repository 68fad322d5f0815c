//! The report of one take, as data: JSON shape `takegauge/score/1`.
//!
//! Field names carry units. Times are in the take's own seconds, deviations are played minus expected (+ is late).
//! Seconds are rounded to 1 us and milliseconds to 0.001 ms when a report is made, so that machines whose floating
//! point differs in the last digits write the same text. No number is NaN or infinite: it is `null`, with a reason
//! beside it. More fields may be added; none is renamed.

use serde::{Deserialize, Serialize};
use takegauge_drill::{ChangeKind, Stroke};

/// The value of `schema`.
pub const SCORE_SCHEMA: &str = "takegauge/score/1";

/// Everything one take's report says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScoreReport {
    /// [`SCORE_SCHEMA`].
    pub schema: String,
    /// What was read.
    pub take: TakeSection,
    /// What was asked.
    pub drill: DrillSection,
    /// The fitted time line of the first pass.
    pub timebase: TimebaseSection,
    /// Pass by pass, then by index.
    pub notes: Vec<NoteRow>,
    /// Attacks that are no note of the drill.
    pub extra: Vec<ExtraRow>,
    /// Stretches that belong to no pass.
    pub set_aside: Vec<SetAsideRow>,
    /// What made this report.
    pub tool: ToolSection,
    /// Recording health: the figures of the audio room, kept as they come.
    pub recording: serde_json::Value,
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
    /// Figures for the curious: timing split, evenness, circular measures; `null` with a reason where withheld.
    pub curious: Curious,
    /// What changes along the take.
    pub along: Along,
    /// Margin and reliability of the take as a whole.
    pub reliability: Reliability,
    /// What to practise next.
    pub plan: Vec<PlanItem>,
    /// Outline of the waveform for plots; left out of JSON unless asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub waveform: Option<Waveform>,
}

/// `take`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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
    pub duration_s: f64,
}

/// `drill`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DrillSection {
    /// As its file says.
    pub name: String,
    /// Picked and legato notes over all repeats.
    pub notes: usize,
    /// Quarter notes a minute, as its file says.
    pub tempo_bpm: f64,
    /// Grid steps a beat.
    pub steps_per_beat: u8,
    /// Times the line is played.
    pub repeats: u32,
    /// "6=E2 ... 1=E4", with capo and A4 where they are not the usual.
    pub tuning: String,
    /// How strokes are chosen: alternate, economy, down, written.
    pub picking: String,
    /// The first stroke, `--first-stroke` included.
    pub first_stroke: Stroke,
}

/// `timebase`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TimebaseSection {
    /// Where the drill's first step falls in the take.
    pub offset_s: f64,
    /// As played.
    pub tempo_bpm: f64,
    /// Played over asked, in per cent, signed.
    pub tempo_error_pct: f64,
    /// "steady" or "click".
    pub mode: String,
    /// Where the tempo came from: "given", "file name", "drill", "sought", "click".
    pub tempo_from: String,
    /// How far the guitar is off the drill's pitch.
    pub cents_off: f64,
    /// In click mode: played minus click on average, or the reason why it is withheld.
    pub from_click_ms: Option<f64>,
    /// Why `from_click_ms` is withheld.
    pub from_click_withheld: Option<String>,
}

/// A change of string, on the note that arrives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ChangeOfNote {
    /// String left.
    pub from: u8,
    /// String reached.
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
pub struct NoteRow {
    /// 0.. over all repeats, the same for every take of a drill.
    pub index: usize,
    /// Which time the line is played.
    pub repeat: usize,
    /// Step in the line.
    pub position: usize,
    /// Pass, from 0.
    pub pass: usize,
    /// "played", "missed", "wrong_pitch", "not_judged", "not_reached"
    pub status: String,
    /// Where the grid puts it.
    pub expected_s: f64,
    /// When it was heard.
    pub played_s: Option<f64>,
    /// Played minus expected; there whenever `played_s` is.
    pub deviation_ms: Option<f64>,
    /// Deviation from the pass's smooth local tempo.
    pub local_deviation_ms: Option<f64>,
    /// One standard deviation of `played_s`.
    pub uncertainty_ms: Option<f64>,
    /// 1 = nearest the floor.
    pub string: u8,
    /// From the capo.
    pub fret: u8,
    /// Sounding pitch.
    pub midi: u8,
    /// What was heard, where a pitch was.
    pub heard_midi: Option<u8>,
    /// The drill's stroke; `null` on legato notes.
    pub stroke: Option<Stroke>,
    /// Stroke labels are unsure after a missed or extra note until the next gap; unsure notes enter no group.
    pub stroke_sure: bool,
    /// `null` where the string stays.
    pub change: Option<ChangeOfNote>,
    /// Peak level after the attack, dBFS.
    pub level_db: Option<f64>,
    /// Ringing over of the string left.
    pub smear_ms: Option<f64>,
    /// Why `smear_ms` is withheld at a change.
    pub smear_withheld: Option<String>,
}

/// One of `extra`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExtraRow {
    /// When.
    pub played_s: f64,
    /// Peak level, dBFS.
    pub level_db: f64,
    /// What pitch, where one was heard.
    pub heard_midi: Option<u8>,
    /// The note it follows; `null` before the first.
    pub after_index: Option<usize>,
    /// Pass, from 0.
    pub pass: usize,
}

/// One of `set_aside`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetAsideRow {
    /// From.
    pub from_s: f64,
    /// To.
    pub to_s: f64,
    /// In plain words.
    pub why: String,
}

/// `tool`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ToolSection {
    /// Of takegauge.
    pub version: String,
    /// Of every random choice in this report.
    pub seed: u64,
}

/// One of `passes`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PassRow {
    /// From 0.
    pub pass: usize,
    /// Where the drill's first step falls.
    pub offset_s: f64,
    /// As played.
    pub tempo_bpm: f64,
    /// First attack.
    pub from_s: f64,
    /// Last attack.
    pub to_s: f64,
    /// Notes between the first and the last one heard.
    pub notes_reached: usize,
}

/// An estimate with its 95 % interval. Where `value` is `null`, `withheld` says why.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Figure {
    /// The estimate.
    pub value: Option<f64>,
    /// 95 % interval.
    pub ci95: Option<[f64; 2]>,
    /// How many notes (or what `value` counts) stand behind it.
    pub n: usize,
    /// Why it is withheld.
    pub withheld: Option<String>,
}

/// `summary`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Two plain sentences.
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
    pub notes_a_second: f64,
    /// Scatter within places of the line, the detector's variance taken off (DESIGN: spread), ms.
    pub spread_ms: Figure,
    /// The detector's own error that was taken off, ms.
    pub detector_sd_ms: f64,
    /// Scatter as it came, drift and detector included, ms.
    pub raw_sd_ms: Option<f64>,
    /// SD of inter-onset intervals of single-step neighbours, ms.
    pub ioi_sd_ms: Figure,
    /// "leaves on upstrokes 12, on downstrokes 0", as counts of the drill.
    pub leaves_on_up: usize,
    /// See `leaves_on_up`.
    pub leaves_on_down: usize,
    /// Strokes, inside and outside are the drill's: said in every output.
    pub strokes_note: String,
}

/// One of `groups`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GroupRow {
    /// "inside", "3>2", "leaves on up", ...
    pub group: String,
    /// As a player reads it: "from string 3 to 2".
    pub label: String,
    /// Notes with a time in it.
    pub n: usize,
    /// Against the notes in no found group, ms.
    pub bias_ms: Option<f64>,
    /// 95 % interval.
    pub bias_ci95_ms: Option<[f64; 2]>,
    /// Scatter within places, detector's variance taken off, ms.
    pub spread_ms: Option<f64>,
    /// 95 % interval; the lower end is `null` where it reaches 0.
    pub spread_ci95_ms: Option<[Option<f64>; 2]>,
    /// Notes beyond 4 MAD, counted apart.
    pub slips: usize,
    /// Notes of it reached.
    pub reached: usize,
    /// Not heard.
    pub missed: usize,
    /// Wilson 95 %, per cent of reached.
    pub missed_ci95_pct: Option<[f64; 2]>,
    /// At another pitch.
    pub wrong_pitch: usize,
    /// Wilson 95 %.
    pub wrong_pitch_ci95_pct: Option<[f64; 2]>,
    /// Extra attacks just before a note of it.
    pub extra: usize,
    /// Wilson 95 %.
    pub extra_ci95_pct: Option<[f64; 2]>,
    /// Median ringing over, ms.
    pub smear_ms: Option<f64>,
    /// Notes with a ringing-over figure.
    pub smear_n: usize,
    /// Mean level against the same strings' other notes, dB; `null` with few notes or a driven recording.
    pub level_db: Option<f64>,
    /// SD of the intervals that end on its notes, ms.
    pub evenness_ms: Option<f64>,
    /// (limit - |bias|) / spread.
    pub margin: Option<f64>,
    /// Its standard error.
    pub margin_se: Option<f64>,
    /// A quarter of the shorter neighbouring note distance, ms.
    pub limit_ms: Option<f64>,
    /// "about 1 note in 60 lands outside +-23 ms"
    pub outside_text: Option<String>,
    /// Why figures are missing.
    pub withheld: Option<String>,
}

/// One of `changes`: the same figures for a pair of strings and kind of change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChangeRow {
    /// String left.
    pub from: u8,
    /// String reached.
    pub to: u8,
    /// Kind.
    pub kind: Option<ChangeKind>,
    /// The stroke that leaves.
    pub leaves_on: Option<Stroke>,
    /// One string away.
    pub adjacent: bool,
    /// The figures; `group` is "3>2 inside".
    #[serde(flatten)]
    pub figures: GroupRow,
}

/// One of `findings`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FindingRow {
    /// Which notes.
    pub group: String,
    /// "bias", "spread", "missed", "wrong_pitch", "extra", "smear", "level", "tempo", "change_in_take" ...
    pub measure: String,
    /// How much.
    pub value: f64,
    /// "ms", "ratio", "per cent", "dB"
    pub unit: String,
    /// 95 % interval.
    pub ci95: Option<[f64; 2]>,
    /// Notes in the group.
    pub n: usize,
    /// Corrected over all groups tried.
    pub p_adjusted: Option<f64>,
    /// Whether one note shifted so much can be heard; `null` where that is not the question.
    pub above_hearing_limit: Option<bool>,
    /// One plain sentence.
    pub text: String,
    /// What to try, in words.
    pub advice: String,
    /// The notes to listen to.
    pub note_indices: Vec<usize>,
    /// Their times, s.
    pub note_times_s: Vec<f64>,
    /// Groups that fit as well.
    pub or_also: Vec<String>,
}

/// `curious`
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Curious {
    /// Wing-Kristofferson, ms.
    pub timekeeper_sd_ms: Figure,
    /// Wing-Kristofferson, ms.
    pub motor_sd_ms: Figure,
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
pub struct Reliability {
    /// Missed, wrong and extra notes.
    pub errors: usize,
    /// Notes reached.
    pub notes: usize,
    /// Exact (Clopper-Pearson) one-sided upper 95 % limit of errors in 100 notes.
    pub at_most_in_100: Option<f64>,
    /// Repeats without an error.
    pub clean_repeats: usize,
    /// Repeats played whole.
    pub repeats: usize,
    /// Passes played whole.
    pub whole_passes: usize,
    /// In words.
    pub text: String,
}

/// One of `plan`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanItem {
    /// What.
    pub what: String,
    /// Why.
    pub why: String,
    /// A drill file's text.
    pub drill_toml: String,
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

/// Outline of the waveform.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Waveform {
    /// One pair a step.
    pub step_s: f64,
    /// Lowest, in thousandths of full scale.
    pub low: Vec<i16>,
    /// Highest.
    pub high: Vec<i16>,
}
