//! The instant of an attack near where the flux and the transient put it, by `takegauge_locate`, and how loud it is.

use crate::clock::Clock;
use crate::decay::{self, Decay};
use crate::tuning::at_hand::BEFORE_MS;
use crate::tuning::attack::{BEGIN_MS, CANDIDATE_SD_MS, LEVEL_MS, OPENING_FOOT, OPENING_SD_MS};
use takegauge_locate::{Locator, Weights};
use takegauge_units::Millis;

/// Where an attack was found and how loud it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Found {
    /// Samples at the transients' rate from the take's start.
    pub(crate) at: f64,
    /// One standard deviation, ms.
    pub(crate) uncertainty_ms: f64,
    /// The chance that a string was let go there at all.
    pub(crate) attack: f64,
    /// Largest sample of the 30 ms after, amplitude.
    pub(crate) peak: f32,
    /// Mean power of the 30 ms after.
    pub(crate) power: f32,
    pub(crate) decay: Decay,
}

/// Finds the instants of attacks; keeps its buffers from one to the next.
pub(crate) struct Refiner {
    /// Samples to a millisecond.
    ms: f64,
    locator: Locator,
}

impl Refiner {
    pub(crate) fn new(clock: Clock, weights: Weights) -> Self {
        let locator = Locator::with(weights, clock.transient_rate());
        debug_assert!(locator.looks_at().0 < BEFORE_MS);
        Self { ms: clock.transient_samples(1.0), locator }
    }

    /// Looks for the attack near sample `near`; `audio` starts at its sample `first`, the recording (after
    /// digital silence) at `begin`.
    pub(crate) fn find(&mut self, audio: &[f32], first: u64, begin: u64, near: f64) -> Found {
        // Counted from a whole sample that follows from the place alone, so that where the audio at hand begins changes
        // nothing, not in the last digit either.
        let from = (near - BEFORE_MS * self.ms).max(0.0).floor().max(first as f64);
        let audio = &audio[clip(from as i64 - first as i64, audio)..];
        let near = near - from;
        let begin = begin as f64 - from;
        let located = self.locator.locate(audio, near, Millis(CANDIDATE_SD_MS));
        let at = if near - begin < BEGIN_MS * self.ms { located.at.max(begin) } else { located.at }.max(0.0);
        let after = &audio[clip(at as i64, audio)..clip((at + LEVEL_MS * self.ms) as i64, audio)];
        Found {
            at: from + at,
            uncertainty_ms: located.sd.0,
            attack: located.attack,
            peak: after.iter().fold(0.0f32, |m, x| m.max(x.abs())),
            power: decay::mean_power(after),
            decay: Decay::of(audio, at, self.ms),
        }
    }

    /// The recording's first sound as an attack: where it first reaches -20 dB of its first peak. `begin` is its first
    /// sample that is not silence.
    pub(crate) fn opening(&self, audio: &[f32], first: u64, begin: u64) -> Found {
        let from = clip(begin.saturating_sub(first) as i64, audio);
        let sound = &audio[from..clip(from as i64 + (LEVEL_MS * self.ms) as i64, audio)];
        let peak = sound.iter().fold(0.0f32, |m, x| m.max(x.abs()));
        let at = sound.iter().position(|x| x.abs() >= OPENING_FOOT * peak).unwrap_or(0);
        Found {
            at: begin as f64 + at as f64,
            uncertainty_ms: OPENING_SD_MS,
            attack: 1.0,
            peak,
            power: decay::mean_power(sound),
            decay: Decay::of(audio, (from + at) as f64, self.ms),
        }
    }
}

fn clip(i: i64, x: &[f32]) -> usize {
    i.clamp(0, x.len() as i64) as usize
}
