//! The film that shows a take.

#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// `camera`: a film of the take, and how its clock runs against the recorder's. Film seconds = `offset_s` + take seconds
/// * (1 + `drift_ppm` / 1e6); the film's seconds are those of its player.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct CameraSection {
    /// As the user named it.
    pub path: String,
    /// SHA-256 of the film's bytes, hexadecimal.
    pub sha256: String,
    /// How the two came together.
    pub matched_by: MatchedBy,
    /// Film seconds at the take's start; below 0 where the film begins later. What the sound needs to the camera, about
    /// 3 ms a metre, is part of it.
    pub offset_s: f64,
    /// 95 % interval of `offset_s`, from the scatter of the windows; `null` where nothing had to be matched.
    #[serde(default)]
    pub offset_interval_s: Option<[f64; 2]>,
    /// By how much the film's clock is faster, in millionths.
    pub drift_ppm: f64,
    /// 95 % interval of `drift_ppm`; `null` where nothing had to be matched.
    #[serde(default)]
    pub drift_interval_ppm: Option<[f64; 2]>,
    /// Windows of sound that agree on the line.
    pub windows_agree: usize,
    /// Windows with sound in both.
    pub windows: usize,
    /// Standard deviation of the agreeing windows about the line.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub scatter_ms: f64,
    /// The take's seconds that the film shows: from, to.
    pub covers_s: [f64; 2],
    /// Length of the film's sound.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub duration_s: f64,
    /// How long a frame is shown (median of the film's first seconds); `null` where the file does not tell.
    #[serde(default)]
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub frame_ms: Option<f64>,
    /// The longest of these frames, where the rate varies; else `null`.
    #[serde(default)]
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub longest_frame_ms: Option<f64>,
    /// In plain words.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub text: String,
}

/// `matched_by`
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum MatchedBy {
    /// Its sound was laid over the take's.
    Sound,
    /// The take is the film's own sound track: the same file.
    SameFile,
}
