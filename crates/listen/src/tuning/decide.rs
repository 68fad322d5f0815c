//! Which candidates are attacks.

/// Loud is the level that a quarter of the candidates exceeds: a quantile.
pub(crate) const LOUD_QUANTILE: f64 = 0.75;
/// Weakest strength handed on, the threshold being 1: two octaves below it.
pub(crate) const FAINTEST: f64 = 0.25;

/// The recording's first sound is an attack if it is no more than this much softer than the loud ones, dB: a recording
/// that begins with noise begins softly.
pub(crate) const OPENING_DB: f64 = -12.0;
/// One softer than this, dB, ...
pub(crate) const OPENING_STEADY_DB: f64 = -6.0;
/// ... is one only if no more than this share of its power is left after 60 ms: hum and noise that the recording begins
/// with go on as they are.
pub(crate) const OPENING_STEADY: f32 = 0.9;
/// It counts by the rise that a note out of silence has, octaves a band.
pub(crate) const OPENING_RISE: f32 = 1.0;
/// It stands for any other candidate as near as this, ms.
pub(crate) const OPENING_ALONE_MS: f64 = 25.0;

/// Share of the strongest candidates whose median rise is the take's own measure. By reasoning: most are notes.
pub(crate) const STRONGEST: f64 = 0.6;
/// Of that measure's logarithm so much is taken off a rise's: half against what the take's notes usually show, half
/// against nothing.
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

/// The threshold where nothing else is known, log2 of the evidence: where clean lines have it.
pub(crate) const USUAL_THRESHOLD: f64 = -2.8;
/// Its lower bound, ...
pub(crate) const LEAST_THRESHOLD: f64 = -5.5;
/// ... and its upper one.
pub(crate) const MOST_THRESHOLD: f64 = -1.0;
/// Places between the bounds at which the threshold is tried: 0.075 octaves apart, well below [`SMOOTHING`].
pub(crate) const THRESHOLD_STEPS: usize = 60;
/// Candidates are counted through a Gaussian of this standard deviation, octaves; the count rises with the square of
/// the distance from the usual threshold, by one candidate at an octave.
pub(crate) const SMOOTHING: f64 = 0.5;

/// Attacks nearer than this are one that two candidates were led to, ms. By reasoning: above an instant's own error,
/// far below the 25 ms between the two notes of a brushed change; strings of one strum that lie so near are one attack.
pub(crate) const ONE_ATTACK_MS: f64 = 3.0;
