//! The steepest rise of a note beside its foot (`crate::rise`).

/// The stretches whose levels are compared, before and after a moment, ms: as long as a pick's noise. Of 1.5, 3 and 5
/// the one whose places scatter the least about the true foot, on notes of two nylon and two steel guitars.
pub(crate) const EACH_MS: f64 = 1.5;
/// The rise is sought from so long before the foot to so long after, ms. By reasoning: the foot may be one period of a
/// low string off.
pub(crate) const SOUGHT_MS: (f64, f64) = (14.0, 10.0);
/// Below this share of the loudest stretch's power nothing rises: -25 dB.
pub(crate) const FLOOR: f64 = 3e-3;
/// The treble is what rises when a string is let go: the difference of samples so far apart, s, as at 44.1 kHz.
pub(crate) const APART_S: f64 = 1.0 / 44_100.0;
/// Sound that must be at hand around the foot, s: what is sought in, a stretch beyond it, and room.
pub(crate) const STRETCH_S: (f64, f64) = (1e-3 * (SOUGHT_MS.0 + EACH_MS + 4.5), 1e-3 * (SOUGHT_MS.1 + EACH_MS + 3.5));
