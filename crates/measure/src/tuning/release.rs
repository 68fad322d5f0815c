//! What the beginning of a sound looks like from near (`crate::release`). What is found so is weighed in
//! [`super::extra`]: a change here needs a new fit of those weights.

use super::lasting;
use super::sound::{QUARTER_HZ, low_pass_ms};

/// Rates to look at, samples a second, and the order of the prediction there: the upper two of [`lasting::BANDS`].
pub(crate) const BANDS: [(f64, usize); 2] = [lasting::BANDS[0], lasting::BANDS[1]];
/// The prediction is learnt from here to there, ms before the attack: as [`lasting`] learns it.
pub(crate) const LEARNT_MS: (f64, f64) = (lasting::LEARNT_MS + lasting::LEARNT_TO_MS, lasting::LEARNT_TO_MS);
/// What is new is read in blocks of this length, ms.
pub(crate) const BLOCK_MS: f64 = 1.0;
/// The release is the loudest block of these, ms after the attack, ...
pub(crate) const RELEASE_MS: (f64, f64) = (-1.0, 3.0);
/// ... held against the loudest two blocks on end of these, or up to the next attack.
pub(crate) const LATER_MS: (f64, f64) = (5.0, 20.0);
/// How smooth the sound is, is told from here to there after the attack, and over as much before it, ms.
pub(crate) const SMOOTH_MS: (f64, f64) = (3.0, 40.0);
/// Where that is little, the order of the prediction is lowered until there are so many samples to each coefficient.
pub(crate) const SAMPLES_A_COEFFICIENT: usize = 3;
/// Sound that must be at hand around the attack, s: what smoothness is told from, and room for the filters.
pub(crate) const STRETCH_S: (f64, f64) = (1e-3 * (SMOOTH_MS.1 + 10.0), 1e-3 * (SMOOTH_MS.1 + 5.0));
const _: () = assert!(1e3 * STRETCH_S.0 > LEARNT_MS.0 + low_pass_ms(QUARTER_HZ));
const _: () = assert!(1e3 * STRETCH_S.1 > LATER_MS.1 + low_pass_ms(QUARTER_HZ));
