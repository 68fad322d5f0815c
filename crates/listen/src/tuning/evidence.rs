//! How much speaks for an attack at a candidate, octaves.

/// So much of the logarithm of the take's usual rise ([`super::decide::STRONGEST`]) is taken off a rise's: half against
/// what the take's notes usually show, half against nothing.
pub(crate) const USUAL_SHARE: f64 = 0.5;
/// A transient's logarithm counts so much beside the rise's: a little.
pub(crate) const TRANSIENT_SHARE: f64 = 0.25;
/// What no transient at all counts as, octaves a band.
pub(crate) const NO_TRANSIENT: f64 = 0.05;
/// Each of so many dB of softness halves the evidence.
pub(crate) const HALVES_DB: f64 = 20.0;
/// A candidate softer than this against the loud ones is the noise floor, not a note, dB.
pub(crate) const SOFTEST_DB: f64 = -45.0;
/// A string, even a choked one, keeps this share of its power from the first 30 ms to the next (20 dB down; picked
/// notes at full speed lose 12 at most); a metronome's click, a knock and a plug do not, ...
pub(crate) const STRING_KEEPS: f32 = 0.01;
/// ... and count so much, log2 of the evidence.
pub(crate) const BLIP: f64 = -3.0;

// The weights of the second look: logistic regression by `tests/measure/fit_attacks.py` on takes of 14 guitars (two
// seeds, 28 kinds of take), each heard by a locator that did not see it. With a family of guitars left out the script
// finds the same within a tenth, but for STRONGER_BEFORE (a quarter). Which signs are weighed was settled by the same
// takes, families left out, with GuitarSet in sight; none of these values was found on it.

/// How much an octave of standing out counts: the unit, by definition. It is 1.17 in the natural logarithm of the odds.
pub(crate) const STANDS_OUT: f64 = 1.0;
/// How much an octave of odds counts below even: what the locator thinks the less likely takes away.
pub(crate) const CHANCE: f64 = 0.47;
/// How much an octave counts by which a candidate shortly before stands out more, ...
pub(crate) const STRONGER_BEFORE: f64 = -1.34;
/// ... and by which one shortly after does.
pub(crate) const STRONGER_AFTER: f64 = -0.47;
/// How much an octave counts by which the best pitch explains the sound better than a middling one.
pub(crate) const PITCHED: f64 = 0.64;
/// What brings the evidence to 0 where an attack is twice as likely as none; with odds of 1 to 2 families left out have
/// the same F within 0.0002. By reasoning the upper of them: a room has more noises than the takes of the fit.
pub(crate) const ODDS: f64 = 2.73;
/// Shortly: ms. By reasoning: below it two notes are no longer played one after the other, as wrist cycles of 10 Hz give
/// strokes 50 ms apart (Fujii, Kudo, Ohtsuki & Oda 2009). Of 30, 45, 60 and 80 ms the fit is best with 45 and 60.
pub(crate) const STRONGER_NEAR_MS: f64 = 45.0;
/// More octaves than this count no more. By reasoning: a candidate so much weaker is none anyway.
pub(crate) const STRONGER_AT_MOST: f64 = 4.0;
