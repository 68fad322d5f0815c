//! An attack's instant, its level, and what becomes of the sound.

/// How far a candidate of flux and transient lies from the attack, ms: standard deviation. Taken over from the search
/// that stood here before; the nets are fitted with the same.
pub(crate) const CANDIDATE_SD_MS: f64 = 4.0;
/// A cut note's attack is sought from the beginning of the recording if it lies this near to it, ms. By reasoning: more
/// than a candidate can be off.
pub(crate) const BEGIN_MS: f64 = 30.0;
/// The stretch after the attack that gives its level, ms. By reasoning: more than a period of a bass's lowest
/// string, 24 ms.
pub(crate) const LEVEL_MS: f64 = 30.0;
/// The recording's first sound begins where it reaches this share of its peak, -20 dB: the definition of an attack.
pub(crate) const OPENING_FOOT: f32 = 0.1;
/// The standard deviation of that, ms: nothing sounded before. Found on plucked notes, where nothing else comes near.
pub(crate) const OPENING_SD_MS: f64 = 0.09;

/// What becomes of a sound is told by stretches after its attack. The first ends here, ms: the one that gives its
/// level.
pub(crate) const DECAY_BEGINS_MS: f64 = LEVEL_MS;
/// The second, as long again, ends here, ms.
pub(crate) const DECAY_NEXT_MS: f64 = 2.0 * DECAY_BEGINS_MS;
/// The last ends here, ms: the sound's first tenth of a second. By reasoning: a string goes on sounding, a knock is
/// over.
pub(crate) const DECAY_UNTIL_MS: f64 = 100.0;
/// The pick's touch, ms before the attack: no part of what was before.
const TOUCH_MS: f64 = 3.0;
/// What was before begins and ends so long before the attack, ms: 50 ms of it.
pub(crate) const DECAY_BEFORE_MS: [f64; 2] = [50.0 + TOUCH_MS, TOUCH_MS];
