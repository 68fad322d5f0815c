//! The second look at a run, and the straight grid of a pass.

/// Notes on either side that say where the grid stands at a note.
pub(crate) const REACH: usize = 12;
/// Notes by which an end may be moved out at once.
pub(crate) const WIDEN: usize = 4;
/// Times over which matching and smoothing take turns. They settle after one or two.
pub(crate) const ROUNDS: usize = 3;
/// Times that the grid is smoothed for one matching: with no scatter known, and with that of the time before.
pub(crate) const SMOOTHED: usize = 3;
/// Times that a local line is fitted again with the weights that its residuals give.
pub(crate) const REWEIGHTED: usize = 2;
/// Residuals beyond this many robust standard deviations do not count in the smooth grid: Tukey's bisquare, 95 %
/// efficiency for normal errors (Holland & Welsch 1977, Commun. Stat. A6:813-827).
pub(crate) const BISQUARE: f64 = 4.685;
/// The scatter is taken to be no less than this, usual distances.
pub(crate) const LEAST_SCATTER: f64 = 0.01;
/// An attack is held against the notes that are expected as near as this, usual distances. By reasoning: it bounds the
/// work and is no hit window, for beyond half a distance another note is nearer.
pub(crate) const NEAR: f64 = 2.5;
/// The slope of a local line leans on the tempo as firmly as so many notes would, a gap from its middle: a few notes
/// cannot tilt it.
pub(crate) const LEAN: f64 = 2.0;

/// Huber's constant: 95 % efficiency for normal errors (Huber 1981, Robust Statistics, section 4.5).
pub(crate) const HUBER: f64 = 1.345;
/// Times that a pass's line is fitted again at most; it stops once nothing moves.
pub(crate) const HUBER_ROUNDS: usize = 30;
/// Makes the median absolute deviation a standard deviation for normal errors (Hampel 1974, J. Am. Stat. Assoc.
/// 69:383).
pub(crate) const SD_A_MAD: f64 = 1.4826;
