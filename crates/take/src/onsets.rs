//! The attacks of a take as data: JSON shape `takegauge/onsets/1`.

use crate::hear::Heard;
use serde::Serialize;
use takegauge_review::sheet::Sheet;

/// The attacks of a take, without any drill.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OnsetsReport {
    /// `takegauge/onsets/1`
    pub schema: &'static str,
    /// The recording.
    pub take: TakeHeard,
    /// In order of time.
    pub onsets: Vec<Onset>,
    /// What the user must know, a sentence each.
    pub warnings: Vec<String>,
}

/// A recording that was listened to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TakeHeard {
    /// As the user named it.
    pub path: String,
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// In the file.
    pub channels: u16,
    /// Of what was decoded.
    pub duration_s: f64,
    /// In words.
    pub channel_used: String,
}

/// One attack.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Onset {
    /// When the string is let go.
    pub time_s: f64,
    /// One standard deviation of it.
    pub uncertainty_ms: f64,
    /// How far it stands out; 1 at the threshold.
    pub strength: f64,
    /// Peak level, dBFS.
    pub level_db: f64,
}

impl OnsetsReport {
    /// What was heard, rounded to what is known.
    pub fn of(heard: &Heard) -> Self {
        let onset = |a: &takegauge_units::Attack| Onset {
            time_s: round(a.at.seconds(heard.rate).0, 1e6),
            uncertainty_ms: round(a.uncertainty.0, 1e3),
            strength: round(f64::from(a.strength), 1e3),
            level_db: round(a.level.0, 1e3),
        };
        Self {
            schema: "takegauge/onsets/1",
            take: TakeHeard {
                path: heard.take.path.clone(),
                sample_rate_hz: heard.rate.hz(),
                channels: heard.take.channels,
                duration_s: round(heard.take.duration_s.0, 1e6),
                channel_used: heard.channel_used.clone(),
            },
            onsets: heard.attacks.iter().map(onset).collect(),
            warnings: heard.warnings.clone(),
        }
    }

    /// One row an attack.
    pub fn sheet(&self) -> Sheet {
        Sheet::default()
            .with("time_s", &self.onsets, |o| o.time_s)
            .with("uncertainty_ms", &self.onsets, |o| o.uncertainty_ms)
            .with("strength", &self.onsets, |o| o.strength)
            .with("level_db", &self.onsets, |o| o.level_db)
    }
}

/// `x` rounded to so many steps a unit; what is not finite becomes 0.
fn round(x: f64, steps: f64) -> f64 {
    let r = (x * steps).round() / steps;
    if r.is_finite() { r + 0.0 } else { 0.0 }
}
