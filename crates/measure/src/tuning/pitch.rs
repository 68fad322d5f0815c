//! Which pitch an attack brought (`crate::pitch`).

use super::sound::TRANSIENT_S;

/// Semitones off, either way, that a wrong fret or string makes. By reasoning: octaves and further share too many
/// partials to be told.
pub(crate) const FURTHEST: i32 = 7;
/// The sound listened to lasts at least and at most so long, s; it begins after the transient.
pub(crate) const LENGTHS_S: (f64, f64) = (0.045, 0.12);
/// Sound that must be at hand around the attack, s.
pub(crate) const STRETCH_S: (f64, f64) = (0.02, TRANSIENT_S + LENGTHS_S.1 + 0.026);
/// Room for mistuned strings on either side of a semitone, cents.
pub(crate) const MISTUNED_CENTS: f64 = 20.0;
/// Frequencies nearer than this are one key, semitones. Definition.
pub(crate) const SAME_KEY_SEMITONES: f64 = 0.5;
/// Another pitch was played where it explains the sound so many times as well as the expected one, ...
pub(crate) const WRONG: f64 = 1.75;
/// ... or so many times where a note struck before, which may be ringing still, has it.
pub(crate) const WRONG_BUT_RINGING: f64 = 2.6;
/// Below this ratio the sound speaks for the expected pitch.
pub(crate) const RIGHT: f64 = 1.3;
