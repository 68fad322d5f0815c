//! Which pitch an attack brought, asked with the expected one in mind.

use crate::decimate::{decimate, factor};
use crate::partials::Stretch;

/// Rate at which partials are sought, Hz.
const RATE_HZ: f64 = 11_000.0;
/// Semitones off that a wrong fret or string makes; octaves and further share too many partials to be told.
const FURTHEST: i32 = 7;
/// The sound listened to begins after the attack's transient, seconds, and lasts at least and at most so long.
const AFTER: f64 = 0.004;
const LENGTHS: (f64, f64) = (0.045, 0.12);
/// Room for tuning on either side of a semitone, cents.
const MISTUNED: f64 = 20.0;

/// The semitones by which the pitch heard is off, and how much better it explains the sound than the expected one
/// does, as a ratio of strengths (below 1: worse; lowered for pitches that rang before).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Off {
    pub(crate) semitones: i32,
    pub(crate) ratio: f64,
}

/// Another pitch must explain the sound so much better; much better if a note struck before, still ringing, has it.
const WRONG: f64 = 1.75;
const WRONG_BUT_RINGING: f64 = 2.6;
/// Below this the sound speaks for the expected pitch.
const RIGHT: f64 = 1.3;

impl Off {
    /// Whether another pitch was played, beyond doubt.
    pub(crate) fn wrong(self) -> bool {
        self.ratio > WRONG
    }

    /// Whether the expected pitch was played, beyond doubt.
    pub(crate) fn right(self) -> bool {
        self.ratio < RIGHT
    }
}

/// Compares the expected pitch at `hz` with the others around it; `alone` is how long the attack is the newest,
/// seconds; `ringing` are the frequencies of notes struck before that may sound on. `None` where there is not enough sound.
pub(crate) fn off(sound: &[f32], rate: f64, attack: f64, hz: f64, alone: f64, ringing: &[f64]) -> Option<Off> {
    let decimated = decimate(sound, rate, factor(rate, RATE_HZ));
    let stretch = Stretch { samples: &decimated.samples, rate: decimated.rate, attack };
    let length = (alone - AFTER).clamp(LENGTHS.0, LENGTHS.1);
    let spectrum = stretch.spectrum(AFTER, length)?;
    let strength = |semitones: i32| spectrum.best(hz * 2f64.powf(f64::from(semitones) / 12.0), MISTUNED).0;
    let expected = strength(0);
    let rang = |semitones: i32| {
        let f = hz * 2f64.powf(f64::from(semitones) / 12.0);
        ringing.iter().any(|r| (12.0 * (r / f).log2()).abs() < 0.5)
    };
    let others = (-FURTHEST..=FURTHEST).filter(|s| *s != 0).map(|s| {
        let doubt = if rang(s) { WRONG / WRONG_BUT_RINGING } else { 1.0 };
        (doubt * strength(s), s)
    });
    let best = others.fold((0.0, 0), |b: (f64, i32), o| if o.0 > b.0 { o } else { b });
    (expected > 0.0).then(|| Off { semitones: best.1, ratio: best.0 / expected })
}
