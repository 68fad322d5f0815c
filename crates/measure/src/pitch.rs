//! Which pitch an attack brought, asked with the expected one in mind.

use crate::decimate::{decimate, factor};
use crate::partials::Stretch;
use crate::tuning::partials::RATE_HZ;
use crate::tuning::pitch::{FURTHEST, LENGTHS_S, MISTUNED_CENTS, RIGHT, SAME_KEY_SEMITONES, WRONG, WRONG_BUT_RINGING};
use crate::tuning::sound::TRANSIENT_S;

/// The semitones by which the pitch heard is off, and how much better it explains the sound than the expected one
/// does, as a ratio of strengths (below 1: worse; lowered for pitches that rang before).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Off {
    pub(crate) semitones: i32,
    pub(crate) ratio: f64,
}

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

/// Whether two frequencies are of one key.
pub(crate) fn same_key(one_hz: f64, other_hz: f64) -> bool {
    (12.0 * (one_hz / other_hz).log2()).abs() < SAME_KEY_SEMITONES
}

/// Compares the expected pitch at `hz` with the others around it; `alone` is how long the attack is the newest,
/// seconds; `ringing` are the frequencies of notes struck before that may sound on. `None` where there is not enough sound.
pub(crate) fn off(sound: &[f32], rate: f64, attack: f64, hz: f64, alone: f64, ringing: &[f64]) -> Option<Off> {
    let decimated = decimate(sound, rate, factor(rate, RATE_HZ));
    let stretch = Stretch { samples: &decimated.samples, rate: decimated.rate, attack };
    let length = (alone - TRANSIENT_S).clamp(LENGTHS_S.0, LENGTHS_S.1);
    let spectrum = stretch.spectrum(TRANSIENT_S, length)?;
    let strength = |semitones: i32| spectrum.best(hz * 2f64.powf(f64::from(semitones) / 12.0), MISTUNED_CENTS).0;
    let expected = strength(0);
    let rang = |semitones: i32| {
        let f = hz * 2f64.powf(f64::from(semitones) / 12.0);
        ringing.iter().any(|r| same_key(*r, f))
    };
    let others = (-FURTHEST..=FURTHEST).filter(|s| *s != 0).map(|s| {
        let doubt = if rang(s) { WRONG / WRONG_BUT_RINGING } else { 1.0 };
        (doubt * strength(s), s)
    });
    let best = others.fold((0.0, 0), |b: (f64, i32), o| if o.0 > b.0 { o } else { b });
    (expected > 0.0).then(|| Off { semitones: best.1, ratio: best.0 / expected })
}
