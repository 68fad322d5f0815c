//! The constants of the instants and levels: unit, meaning, origin. Those of the nets are in `takegauge_locate`.

/// How far a candidate of flux and transient lies from the attack, ms: standard deviation. Taken over from the search
/// that stood here before; the nets are fitted with the same.
pub(crate) const CANDIDATE_SD_MS: f64 = 4.0;
/// A cut note's attack is sought from the beginning of the recording if it lies this near to it, ms. By reasoning: more
/// than a candidate can be off.
pub(crate) const BEGIN_MS: f64 = 30.0;
/// The stretch after the attack that gives its level, ms: a period and a half of the lowest string of a bass.
pub(crate) const LEVEL_MS: f64 = 30.0;
/// The recording's first sound begins where it reaches this share of its peak, -20 dB: the definition of an attack.
pub(crate) const OPENING_FOOT: f32 = 0.1;
/// The standard deviation of that, ms: nothing sounded before.
pub(crate) const OPENING_SD_MS: f64 = 0.09;
/// Attacks nearer than this are one that two candidates were led to, ms. By reasoning: above an instant's own error, far
/// below the 25 ms between the two notes of a brushed change; strings of one strum that lie so near are one attack.
pub(crate) const ONE_ATTACK_MS: f64 = 3.0;
