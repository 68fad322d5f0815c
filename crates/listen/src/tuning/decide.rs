//! Which candidates are attacks.

/// Loud is the level that a quarter of the candidates exceeds: a quantile.
pub(crate) const LOUD_QUANTILE: f64 = 0.75;
/// Weakest strength handed on, the threshold being 1: two octaves below it.
pub(crate) const FAINTEST: f64 = 0.25;
/// The most strength that what is no attack can have. By definition below 1, the threshold.
pub(crate) const JUST_BELOW: f64 = 0.99;

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
/// The threshold where nothing else is known, octaves of evidence: by definition.
pub(crate) const USUAL_THRESHOLD: f64 = 0.0;
/// Its lower bound, ...
pub(crate) const LEAST_THRESHOLD: f64 = -2.7;
/// ... and its upper one.
pub(crate) const MOST_THRESHOLD: f64 = 1.8;
/// Places between the bounds at which the threshold is tried: 0.075 octaves apart, well below [`SMOOTHING`].
pub(crate) const THRESHOLD_STEPS: usize = 60;
/// Candidates are counted through a Gaussian of this standard deviation, octaves; the count rises with the square of
/// the distance from the usual threshold, by one candidate at an octave.
pub(crate) const SMOOTHING: f64 = 0.5;

/// Attacks nearer than this are one that two candidates were led to, ms. By reasoning: above an instant's own error,
/// far below the 25 ms between the two notes of a brushed change; strings of one strum that lie so near are one attack.
pub(crate) const ONE_ATTACK_MS: f64 = 3.0;
