//! The flux, the noise floor under it, and the moments it is compared with.

/// The earlier frame that a frame is compared with lies so long before, ms: about half a window.
pub(crate) const LAG_MS: f64 = 20.0;
/// A band's knee, as a share of the power of the loudest frame nearby: -50 dB.
pub(crate) const KNEE: f32 = 1e-5;
/// How far "nearby" reaches back, ms.
pub(crate) const BACK_MS: f64 = 2_000.0;
/// How far it reaches ahead, ms: the flux comes so much later than the sound.
pub(crate) const AHEAD_MS: f64 = 600.0;
/// A band stands out of the bands this many places away: at 24 bands an octave an eighth of an octave.
pub(crate) const APART: usize = 3;

/// Spectra in a moment, whose mean power is what counts for the floor: one every 25 ms. By reasoning: more than one
/// look at the noise, and shorter than fast notes.
pub(crate) const MOMENT_FRAMES: usize = 5;
/// How much larger the mean of noise is than its quietest moment out of some fifty to a hundred. By simulation with
/// white noise: 3 to 6 for half-overlapped Hann frames, as the first listener's nearly were. For frames as they are
/// now, at 11.025 kHz, it is 3.7 to 4.4 in bands of five bins, 7 to 9 in bands of two, 11 to 15 in single bins
/// (medians): there the floor that is told lies below the noise's mean.
pub(crate) const MEAN_OVER_QUIETEST: f32 = 4.0;
