//! How well the attacks of two notes match (`crate::alike`).

use super::sound::{HALF_HZ, low_pass_ms};

/// Sound is compared at about this rate, samples a second, ...
pub(crate) const RATE_HZ: f64 = HALF_HZ;
/// ... in bands between these edges, Hz, and above the last one.
pub(crate) const EDGES_HZ: [f64; 4] = [300.0, 1_000.0, 2_500.0, 5_000.0];
/// A band's lower edge lies below this share of the Nyquist frequency, or the band is left out.
pub(crate) const HIGHEST_EDGE: f64 = 0.8;
/// The attack itself: from so long before the known instant to so long after, ms. By reasoning: a string touched by the
/// pick until its release repeats itself only so far.
pub(crate) const BEFORE_MS: f64 = 2.0;
pub(crate) const AFTER_MS: f64 = 15.0;
/// One note is laid over the other up to so far off, ms: more than a period of a guitar's low E string, 12 ms.
pub(crate) const REACH_MS: f64 = 16.0;
/// Loudness is followed in blocks of this length, ms; ...
pub(crate) const BLOCK_MS: f64 = 0.5;
/// ... what is new at a place is the loudest of so many from just before it on ...
pub(crate) const NEW_BLOCKS: usize = 7;
/// ... against the loudest of so many before those.
pub(crate) const PAST_BLOCKS: usize = 31;
/// The past of the earliest place and a block more, ms: places are rounded down to blocks. It also lets the filters
/// settle.
pub(crate) const RUN_IN_MS: f64 = (PAST_BLOCKS + 1) as f64 * BLOCK_MS;
/// Room for the low-pass on either side, ms.
const LOW_PASS_MS: f64 = 1.0;
const _: () = assert!(LOW_PASS_MS > low_pass_ms(RATE_HZ));
/// The sound that must be at hand around an attack, s.
pub(crate) const STRETCH_S: (f64, f64) =
    (1e-3 * (RUN_IN_MS + REACH_MS + BEFORE_MS + LOW_PASS_MS), 1e-3 * (AFTER_MS + REACH_MS + LOW_PASS_MS));
/// Amplitudes below this are none: -140 dBFS.
pub(crate) const SILENT: f32 = 1e-7;
/// ... and so are energies (sums of squares).
pub(crate) const LEAST_ENERGY: f64 = 1e-12;
/// Correlations count up to here. By reasoning: what is beyond is rounding.
pub(crate) const HIGHEST: f32 = 0.999;
