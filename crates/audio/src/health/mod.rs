//! The health of a recording: what in it makes timing hard to hear, and what to do about it next time.
//!
//! Conventions: levels in dB relative to full scale (a full-scale sine's peak is 0 dBFS, its rms -3); times in seconds
//! from the take's first sample. Every number is finite; what cannot be told is `None`. Thresholds are common practice
//! of recording, no source, unless one is named. Time-stretching and pitch correction leave no sign that could be told
//! from playing, and nothing is claimed about them.

mod advice;
mod cell;
mod cuts;
mod histogram;
mod level;
mod spectrum;
mod tops;

use level::LevelMeter;
use serde::{Deserialize, Serialize};
use spectrum::{EchoMeter, HissMeter, HumMeter};
use takegauge_units::SampleRate;

pub use advice::{Problem, ProblemKind};

/// What the meter found. Numbers carry their unit in their name. The fields stand by name, as reports have always
/// written them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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

/// Measures the health of a take block by block, in bounded memory. The answer does not depend on the block size.
pub struct HealthMeter {
    rate: SampleRate,
    frames: u64,
    level: LevelMeter,
    hiss: HissMeter,
    hum: HumMeter,
    echo: EchoMeter,
    for_echo: Thinner,
    for_hum: Thinner,
}

/// The mean of every `factor` samples: a stream at a lower rate, good enough to look for lines in.
struct Thinner {
    factor: usize,
    sum: f32,
    n: usize,
}

impl Thinner {
    fn new(factor: usize) -> Self {
        Self { factor, sum: 0.0, n: 0 }
    }

    /// Takes what still belongs to the mean begun; its value when it is complete.
    fn take(&mut self, block: &mut &[f32]) -> Option<f32> {
        let (part, rest) = block.split_at(block.len().min(self.factor - self.n));
        self.sum += cell::lane_sum(part);
        self.n += part.len();
        *block = rest;
        if self.n < self.factor {
            return None;
        }
        self.n = 0;
        Some(std::mem::take(&mut self.sum) / self.factor as f32)
    }
}

/// Lowest rates of the thinned streams for echo and hum.
const ECHO_HZ: u32 = 11_000;
const HUM_HZ: u32 = 1_350;

impl HealthMeter {
    /// A meter for a take at this rate.
    pub fn new(rate: SampleRate) -> Self {
        let (for_echo, for_hum) = ((rate.hz() / ECHO_HZ).max(1), (rate.hz() / HUM_HZ).max(1));
        Self {
            rate,
            frames: 0,
            level: LevelMeter::new(rate.hz()),
            hiss: HissMeter::new(rate.hz()),
            hum: HumMeter::new(rate.as_f64() / f64::from(for_hum)),
            echo: EchoMeter::new(rate.as_f64() / f64::from(for_echo)),
            for_echo: Thinner::new(for_echo as usize),
            for_hum: Thinner::new(for_hum as usize),
        }
    }

    /// The next samples of the take, any number, full scale +-1, finite.
    pub fn push(&mut self, block: &[f32]) {
        self.frames += block.len() as u64;
        self.level.push(block);
        self.hiss.push(block);
        let mut rest = block;
        while !rest.is_empty() {
            if let Some(x) = self.for_hum.take(&mut rest) {
                self.hum.push(x);
            }
        }
        let mut rest = block;
        while !rest.is_empty() && self.echo.wants_more() {
            if let Some(x) = self.for_echo.take(&mut rest) {
                self.echo.push(x);
            }
        }
    }

    /// What was found. `non_finite_samples` is the reader's count ([`crate::ReadSummary`]).
    pub fn finish(mut self, non_finite_samples: u64) -> Health {
        self.level.finish();
        let n = self.frames.max(1) as f64;
        let seconds = |frame: u64| frame as f64 / self.rate.as_f64();
        let level = &self.level;
        let mean = level.sum / n;
        let hum = self.hum.hum();
        let (hiss_dbfs, level_dbfs) = (self.hiss.level_db(), level.levels.quantile_db(0.95));
        let noise_floor_dbfs = hiss_dbfs.map(|hiss| {
            let hum = hum.map_or(0.0, |h| histogram::power_of_db(h.1));
            histogram::db_of_power(histogram::power_of_db(hiss) + hum)
        });
        let (clip, echo) = (level.tops.clipping(), self.echo.echo());
        let crest_db = level.crest_db();
        let near_peak_share = level.near_peak_share();
        let mut health = Health {
            duration_s: seconds(self.frames),
            peak_dbfs: histogram::db_of_power(f64::from(level.peak).powi(2)),
            rms_dbfs: histogram::db_of_power((level.squares / n - mean * mean).max(0.0)),
            level_dbfs,
            quietest_dbfs: level.levels.quantile_db(0.05),
            clipped_samples: clip.samples,
            clipped_runs: clip.runs,
            first_clipped_s: clip.first.map(seconds),
            dc_offset: level.offset(),
            hiss_dbfs,
            hum_hz: hum.map(|h| h.0),
            hum_dbfs: hum.map(|h| h.1),
            noise_floor_dbfs,
            signal_to_noise_db: level_dbfs.zip(noise_floor_dbfs).map(|(s, n)| s - n),
            crest_db,
            near_peak_share,
            limited_or_driven: advice::limited_or_driven(crest_db, near_peak_share),
            digital_silence_share: level.cuts.silent_cells as f64 / level.cells.max(1) as f64,
            hard_cuts: level.cuts.found,
            first_hard_cut_s: level.cuts.first.map(seconds),
            echo_ms: echo.map(|e| e.0),
            echo_db: echo.map(|e| e.1),
            non_finite_samples,
            problems: Vec::new(),
        };
        health.problems = advice::problems(&health);
        health
    }
}
