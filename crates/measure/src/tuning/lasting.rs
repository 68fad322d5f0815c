//! Whether something new goes on sounding after a place (`crate::lasting`). What is found so is weighed in
//! [`super::extra`]: a change here needs a new fit of those weights.

use super::sound::{CLEAR_OF_OTHERS_MS, EIGHTH_HZ, HALF_HZ, QUARTER_HZ, low_pass_ms};

/// Rates to listen at, samples a second, and the order of the prediction there.
pub(crate) const BANDS: [(f64, usize); 3] = [(HALF_HZ, 32), (QUARTER_HZ, 24), (EIGHTH_HZ, 20)];
/// The prediction is learnt from so much sound, ms, ...
pub(crate) const LEARNT_MS: f64 = 35.0;
/// ... up to so long before the place, ms, so that what is new is not learnt where it begins a little early.
pub(crate) const LEARNT_TO_MS: f64 = 3.0;
/// Its errors before the place are read in the last of that, ms, ...
pub(crate) const BEFORE_MS: f64 = 15.0;
/// ... in blocks of this length, ms; the middle one by size counts, so that the pick's touch does not.
pub(crate) const BLOCK_MS: f64 = 3.0;
/// Its errors afterwards are read from here to there after the place, ms: later than a click rings in the filters.
pub(crate) const AFTER_MS: (f64, f64) = (5.0, 12.0);
/// Shorter stretches than this say nothing, ms: one block.
pub(crate) const LEAST_MS: f64 = BLOCK_MS;
/// Sound that must be at hand around a place, s.
pub(crate) const STRETCH_S: (f64, f64) = (0.12, 0.03);
const _: () = assert!(1e3 * STRETCH_S.0 > LEARNT_MS + LEARNT_TO_MS + low_pass_ms(EIGHTH_HZ));
const _: () = assert!(1e3 * STRETCH_S.1 > AFTER_MS.1 + low_pass_ms(EIGHTH_HZ));
const _: () = assert!(LEARNT_MS > BEFORE_MS && LEARNT_TO_MS > CLEAR_OF_OTHERS_MS);
/// Errors of prediction so many times larger are new sound: attacks of strings are hardly ever below, unless they are
/// much softer than what they end.
pub(crate) const NEW: f64 = 1.6;
