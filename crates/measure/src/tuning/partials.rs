//! Where a string's partials lie, and how its pitch and stiffness are tuned (`crate::partials`).

use super::sound::{EDGE, QUARTER_HZ};

/// Rate at which partials are sought and followed, samples a second: it holds [`HIGHEST_OTHER_HZ`].
pub(crate) const RATE_HZ: f64 = QUARTER_HZ;
/// Highest partial that speaks for a note, Hz, ...
pub(crate) const HIGHEST_HZ: f64 = 3_500.0;
/// ... and at a low rate no higher than this share of it: the low-pass's edge.
pub(crate) const HIGHEST_OF_RATE: f64 = 0.5 * EDGE;
/// Partials of other notes are minded up to here, Hz.
pub(crate) const HIGHEST_OTHER_HZ: f64 = 4_000.0;
/// A note lies no lower, Hz, whatever a drill says: bounds the work.
pub(crate) const LOWEST_HZ: f64 = 10.0;
/// A string's partials are counted up to before this one: bounds the work on the lowest notes.
pub(crate) const PARTIALS_END: u32 = 60;
/// A middling stiffness of a guitar string, the B of `Comb`, for notes whose own is not known.
pub(crate) const MIDDLING_STIFFNESS: f64 = 6e-5;
/// Stiffnesses tried: from a thin plain string to a thick wound one stopped high up.
pub(crate) const STIFFNESSES: [f64; 6] = [1e-5, 3e-5, MIDDLING_STIFFNESS, 1.2e-4, 2.4e-4, 4.8e-4];
/// So many partials speak for a pitch at most.
pub(crate) const MOST_PARTIALS: usize = 24;
/// Pitches tried lie this far apart, cents.
pub(crate) const TUNE_STEP_CENTS: f64 = 4.0;
/// Bins of the spectrum that is tuned by lie no further apart than this, Hz.
pub(crate) const BIN_HZ: f64 = 3.0;
