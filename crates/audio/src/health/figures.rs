//! What is told of a recording.

#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What the meter found. Numbers carry their unit in their name. The fields stand by name, as reports have always
/// written them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct Health {
    /// How many flat tops.
    pub clipped_runs: u64,
    /// Samples in flat tops, at full scale or below.
    pub clipped_samples: u64,
    /// Peak above rms within 50 ms, middle value of the louder half: 8 dB and more for a guitar that is not driven.
    pub crest_db: Option<f64>,
    /// Constant offset, as a share of full scale.
    pub dc_offset: f64,
    /// Share (0 to 1) of the take that is digital silence, every sample 0.
    pub digital_silence_share: f64,
    /// Length of what was measured.
    pub duration_s: f64,
    /// Level of the copy that `echo_ms` is the distance of, against the sound itself.
    pub echo_db: Option<f64>,
    /// Distance at which the sound, or a part of it, comes again exactly: a delay effect's, or a bleeding click's.
    pub echo_ms: Option<f64>,
    /// Where the first flat top is.
    pub first_clipped_s: Option<f64>,
    /// Where the first such cut is.
    pub first_hard_cut_s: Option<f64>,
    /// How often the sound breaks off into digital silence: cuts, or a hard gate.
    pub hard_cuts: u64,
    /// Broadband noise, as if white: at most this, where the take never rests.
    pub hiss_dbfs: Option<f64>,
    /// Level of the hum with its harmonics.
    pub hum_dbfs: Option<f64>,
    /// Mains frequency of a hum, 50 or 60; `None` where no hum stands out.
    pub hum_hz: Option<f64>,
    /// Level of the playing: 95 % of all stretches of 50 ms are no louder (rms).
    pub level_dbfs: Option<f64>,
    /// The level hardly moves: overdrive, a limiter or heavy compression.
    pub limited_or_driven: bool,
    /// Share (0 to 1) of the sounding stretches of 50 ms that come within 1 dB of the highest peak.
    pub near_peak_share: f64,
    /// Hiss and hum together.
    pub noise_floor_dbfs: Option<f64>,
    /// Samples that were no number in the file, read as 0.
    pub non_finite_samples: u64,
    /// Highest sample.
    pub peak_dbfs: f64,
    /// What is wrong, and what to do, the gravest first; empty for a healthy take.
    pub problems: Vec<Problem>,
    /// Level of the quietest moments: 5 % of all stretches of 50 ms are no louder (rms).
    pub quietest_dbfs: Option<f64>,
    /// Root mean square of everything, offset removed.
    pub rms_dbfs: f64,
    /// `level_dbfs` above `noise_floor_dbfs`.
    pub signal_to_noise_db: Option<f64>,
}

/// One thing wrong with a recording.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct Problem {
    /// What to do about it.
    pub advice: String,
    /// What kind.
    pub kind: ProblemKind,
    /// What was found, with its numbers.
    pub text: String,
}

/// The kinds of problem, gravest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum ProblemKind {
    /// Nothing but silence.
    Silent,
    /// Samples that are no number.
    NonFinite,
    /// Flat tops.
    Clipped,
    /// Hiss too near to the playing.
    Noise,
    /// Mains hum.
    Hum,
    /// A delay effect, or a bleeding click.
    Echo,
    /// Overdrive or a limiter.
    LimitedOrDriven,
    /// The sound breaks off into digital silence.
    HardCuts,
    /// Far below full scale.
    Quiet,
    /// A constant offset.
    DcOffset,
}
