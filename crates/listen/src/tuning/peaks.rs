//! Which peaks of the flux are candidates, and where they are.

use super::frames::HOP_MS;

/// Two notes of a brushed change come down to this, ms; the fastest strokes on one string are 50 ms apart (wrist cycles
/// of 10 Hz: Fujii, Kudo, Ohtsuki & Oda 2009).
const BRUSHED_CHANGE_MS: f64 = 25.0;
/// A peak is the largest within this to either side, ms. By reasoning: half of what two notes are apart.
pub(crate) const NEIGHBOURS_MS: f64 = BRUSHED_CHANGE_MS / 2.0;
/// The surroundings whose mean is taken off, ms to either side: the peaks come so much later than the flux.
pub(crate) const SURROUNDINGS_MS: f64 = 100.0;
/// Share of the surroundings' mean that is taken off.
pub(crate) const MEAN_SHARE: f32 = 0.5;
/// Flux above the surroundings, octaves a band, below which nothing is an attack even to a reader who expects one.
pub(crate) const LEAST: f32 = 0.01;
/// The flux peaks this long after an attack, ms, as its window and lag make it. Median on plucked notes.
pub(crate) const FLUX_LATE_MS: f64 = 6.8;
/// The standard deviation of that, ms; the transient decides within it.
pub(crate) const FLUX_SD_MS: f64 = 5.0;
/// How far from the flux's peak the transient is sought, ms to either side.
pub(crate) const TRANSIENT_REACH_MS: f64 = 12.5;
/// What a frame without any transient counts beside those that have one, octaves a band.
pub(crate) const NO_TRANSIENT: f64 = 0.02;
/// A peak's place may lie this long before the frame that showed it, ms. By reasoning: as far as the transient is
/// sought, and three frames for what rounding to frames may add.
pub(crate) const PLACED_BEFORE_MS: f64 = TRANSIENT_REACH_MS + 3.0 * HOP_MS;
