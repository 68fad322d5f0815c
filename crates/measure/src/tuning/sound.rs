//! Rates at which sound is looked at, and what every look at it has in common.

/// Just below a half, a quarter and an eighth of 44.1 kHz, samples a second: a rate is lowered by whole factors, to
/// these or the next above. By reasoning: a lower rate costs less, and knows low partials apart in a shorter
/// prediction.
pub(crate) const HALF_HZ: f64 = 22_000.0;
pub(crate) const QUARTER_HZ: f64 = 11_000.0;
pub(crate) const EIGHTH_HZ: f64 = 5_500.0;
/// Taps of the low-pass before that, per unit of the factor, on either side of the middle one.
pub(crate) const HALF_TAPS: usize = 12;
/// Edge of its pass band over the new Nyquist frequency.
pub(crate) const EDGE: f64 = 0.9;
/// Sound that the low-pass reaches on either side, ms, where a rate is lowered to this.
pub(crate) const fn low_pass_ms(to_hz: f64) -> f64 {
    1e3 * HALF_TAPS as f64 / to_hz
}
/// Linear prediction: added to the diagonal, over the mean of the diagonal. A pure tone would leave the equations
/// singular.
pub(crate) const LOADING: f64 = 1e-5;
/// An attack's transient, s: a note's own partials are heard after it.
pub(crate) const TRANSIENT_S: f64 = 0.004;
/// What is looked at after one attack ends so long before the next, and what is looked at before one begins so long
/// after the last, ms.
pub(crate) const CLEAR_OF_OTHERS_MS: f64 = 1.0;
