//! The health of a recording: what in it makes timing hard to hear, and what to do about it next time.
//!
//! Conventions: levels in dB relative to full scale (a full-scale sine's peak is 0 dBFS, its rms -3); times in seconds
//! from the take's first sample. Every number is finite; what cannot be told is `None`. Thresholds are common practice
//! of recording, no source, unless one is named. Time-stretching and pitch correction leave no sign that could be told
//! from playing, and nothing is claimed about them.

mod advice;
mod cell;
mod cuts;
mod figures;
mod histogram;
mod level;
mod spectrum;
mod tops;

use level::LevelMeter;
use spectrum::{EchoMeter, HissMeter, HumMeter};
use takegauge_units::SampleRate;

pub use figures::{Health, Problem, ProblemKind};

/// Measures the health of a take block by block, in bounded memory. The answer does not depend on the block size.
pub struct HealthMeter {
    rate: SampleRate,
    frames: u64,
    waiting: Vec<f32>,
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

/// Samples are taken so many at a time: sums of f32 hang on where they are cut, and the same sound gives the same figures
/// from whatever container it comes.
const STRETCH: usize = 4096;

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
            waiting: Vec::with_capacity(STRETCH),
            level: LevelMeter::new(rate.hz()),
            hiss: HissMeter::new(rate.hz()),
            hum: HumMeter::new(rate.as_f64() / f64::from(for_hum)),
            echo: EchoMeter::new(rate.as_f64() / f64::from(for_echo)),
            for_echo: Thinner::new(for_echo as usize),
            for_hum: Thinner::new(for_hum as usize),
        }
    }

    /// The next samples of the take, any number, full scale +-1, finite.
    pub fn push(&mut self, mut block: &[f32]) {
        while !block.is_empty() {
            let (part, rest) = block.split_at(block.len().min(STRETCH - self.waiting.len()));
            self.waiting.extend_from_slice(part);
            block = rest;
            if self.waiting.len() == STRETCH {
                self.take_waiting();
            }
        }
    }

    fn take_waiting(&mut self) {
        let mut waiting = std::mem::take(&mut self.waiting);
        self.take(&waiting);
        waiting.clear();
        self.waiting = waiting;
    }

    fn take(&mut self, block: &[f32]) {
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
        self.take_waiting();
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
