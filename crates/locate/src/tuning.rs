//! Every constant of the estimator that is not a weight: its unit, its meaning, how it was found. The first part is the
//! build that the weights were fitted with; tests/measure/fit_ear.py has the same, and a change there needs a new fit.

/// Samples a second at which the sound is looked at: half of 44.1 kHz holds the edges of guitars and halves the cost.
pub(crate) const RATE_HZ: f64 = 22_050.0;
/// Samples from a frame to the next: 0.54 ms. Divisible by 4, so that frames fall on samples at both lower rates.
pub(crate) const HOP: usize = 12;
/// Samples in a frame: 1.6 ms, three hops.
pub(crate) const TAPS: usize = 36;
/// Frames to each side of the middle in which the release is sought: 18 ms, four and a half times the standard deviation of a
/// candidate that the nets are fitted with. By reasoning.
pub(crate) const BINS: usize = 33;
/// From a frame to the next, ms.
pub(crate) const BIN_MS: f64 = HOP as f64 / RATE_HZ * 1e3;
/// How far from the middle the release is sought, ms.
pub const REACH_MS: f64 = BINS as f64 * BIN_MS;
/// Keeps the logarithm of a level within 70 dB of the loudest sample.
pub(crate) const LEVEL_FLOOR: f32 = 1e-7;
/// ... and that of an error of prediction within 20 dB of the usual one: what is predicted better says no more.
pub(crate) const ERROR_FLOOR: f32 = 1e-2;
/// Frames to a step of the net's slow part.
pub(crate) const SLOW: usize = 4;

/// One rate at which the sound is predicted from its past and from its future.
pub(crate) struct Predicted {
    /// Coefficients: two for each partial that is to be predicted. By reasoning: partials that matter against cost; not
    /// varied by itself.
    pub order: usize,
    /// Samples of the lower rate that a frame takes, and where they begin against the frame.
    pub taps: usize,
    pub begin: usize,
}

/// After one and after two halvings: the higher rate times the edge, the lower one knows low strings' partials apart.
pub(crate) const PREDICTED: [Predicted; 2] =
    [Predicted { order: 20, taps: 16, begin: 1 }, Predicted { order: 16, taps: 9, begin: 0 }];
/// Filters on what is not predicted, in pairs; for each rate, past and future.
pub(crate) const ERROR_FILTERS: usize = 8;
/// The past that prediction learns from ends so many samples of the lower rate before the first frame in which a release
/// is sought: a frame reaches ahead of its middle.
pub(crate) const LEARNT_BEFORE: usize = 6;

/// A hump is the frames within this of its middle: 1.1 ms.
pub(crate) const HUMP: usize = 2;
/// The nets are fitted to a normal distribution of this width about each answer, ms, half a frame and a bit, so that
/// neighbouring frames share an answer between them: it is taken off the spread of their evidence again.
pub(crate) const SOFT_MS: f64 = 0.3;
/// What is left where the evidence is one narrow hump, ms: the place between frames and of the -20 dB point within a
/// sample's swing. Of 0.08, 0.10 and 0.12 the one that made error over stated
/// the most even over thirds on guitars left out of the fit.
pub(crate) const CORE_MS: f64 = 0.1;
/// Rival places below this share of the evidence are none.
pub(crate) const LEAST_RIVAL: f64 = 0.01;
/// So many rivals are told at most.
pub const MOST_RIVALS: usize = 3;

/// Speeds at which the thorough net looks again. By reasoning: a twentieth and more, so that frames and partials fall
/// otherwise on the filters; less than the half octave by which notes are transposed while fitting.
pub(crate) const OTHER_SPEEDS: [f64; 2] = [0.93, 1.07];
/// It looks again where the first look's standard deviation is above this, ms: half as much again as a single hump has. By
/// reasoning: what is surer than this gains nothing, and a look costs as much as the first. From 0.25 on errors of clear notes are
/// no larger (1,457 of guitars that no fit has seen; 0.4, 0.6 and 1 are worse), but talk passes more often for a note.
pub(crate) const AGAIN_FROM_MS: f64 = 1.5 * CORE_MS;
/// Three looks at one sound are worth so many that err by themselves. Of 1, 1.2 and 1.5 the one with which `score`'s error
/// over stated is nearest to 1, on takes of 16 guitars (two seeds); which guitars hardly matters.
pub(crate) const LOOKS_WORTH: f64 = 1.2;

/// So many rough places are led astray, anywhere within this of the release, ms: as in the scenes that the nets are
/// fitted to (tests/measure/fit_ear.py, `off`).
pub(crate) const ASTRAY: f64 = 0.15;
pub(crate) const ASTRAY_MS: f64 = 16.0;
