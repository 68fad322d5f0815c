//! The transients: a band louder than at any moment just before.

/// How many bands. Definition: as many as [`EDGES_HZ`] has.
pub(crate) const BANDS: usize = 5;
/// Edges of the bands, Hz: an octave or two each, from the middle partials of low strings to the pick's own noise.
pub(crate) const EDGES_HZ: [f64; BANDS + 1] = [160.0, 640.0, 1_280.0, 2_560.0, 5_120.0, 10_000.0];
/// An edge above this share of the sample rate is taken for this. By reasoning: shortly below the Nyquist frequency, at
/// 0.5, where the filters' design has a pole; it counts where a take's own rate is low.
pub(crate) const HIGHEST_SHARE: f64 = 0.48;
/// How long the past is whose loudest moment counts, ms: the period of 50 Hz. By reasoning: below the lowest string of
/// a guitar, which strikes the ear anew once a period.
pub(crate) const PAST_MS: f64 = 1e3 / 50.0;
/// What a band must exceed to count, as a share of the amplitude of the loudest moment nearby: -50 dB, as in the flux.
pub(crate) const KNEE: f32 = 3e-3;
