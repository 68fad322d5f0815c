//! Rates, frames and bands.

/// The transients are sought at the take's own rate halved as long as it stays at or above this, Hz. By reasoning: half
/// of 44.1 kHz holds the bands of the transients and the locator's own rate.
pub(crate) const TRANSIENT_RATE_HZ: f64 = 21_000.0;
/// The spectrum is taken at that rate halved as long as it stays at or above this, Hz: once more. By reasoning: the
/// partials that tell notes apart lie below 4.4 kHz.
pub(crate) const SPECTRUM_RATE_HZ: f64 = TRANSIENT_RATE_HZ / 2.0;
/// From one frame to the next, ms.
pub(crate) const HOP_MS: f64 = 2.5;
/// The spectrum is taken every so many frames; the flux between is the mean of its neighbours. By reasoning: half the
/// transforms, and the window is nine times as long as what lies between.
pub(crate) const SPECTRUM_EVERY: usize = 2;
/// Length of the analysis window, ms: 512 samples at 11.025 kHz. By reasoning: it separates the partials of an old and
/// a new note from about 80 Hz apart.
pub(crate) const WINDOW_MS: f64 = 46.4;
/// Bands an octave where bins are dense enough; below that each bin is a band of its own. As many as Böck & Widmer
/// (2013, section 2.2) have.
pub(crate) const BANDS_PER_OCTAVE: f64 = 24.0;
/// Lower edge of the lowest band, Hz. By reasoning: below lie hum, handling noise and DC.
pub(crate) const LOWEST_HZ: f64 = 60.0;
/// Upper edge of the highest band, Hz: where the pass band of the halvings ends.
pub(crate) const HIGHEST_HZ: f64 = 4_400.0;
/// No band and no partial is looked for above this share of the sample rate at hand. By reasoning: shortly below the
/// Nyquist frequency, at 0.5, the halvings let too little through; it counts where a take's own rate is low.
pub(crate) const HIGHEST_SHARE: f64 = 0.45;
