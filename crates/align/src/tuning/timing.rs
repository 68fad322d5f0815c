//! How notes lie about the grid, asked in more than one place.

/// Half of a usual distance: nearer to a note's place than that, a sound is nearer to it than to the next note's.
/// Definition.
pub(crate) const HALF_WAY: f64 = 0.5;
/// A note's scatter about the grid before any is known, standard deviation in usual distances.
pub(crate) const SCATTER: f64 = 0.1;
/// A legato note scatters so many times as much as a picked one.
pub(crate) const LEGATO_SCATTER: f64 = 2.0;
/// Degrees of freedom of the timing error: slips make its tails heavier than normal. `cost::timing` is written for this
/// number.
pub(crate) const NU: f64 = 5.0;
/// ln of Student's density at its centre for 5 degrees of freedom: gamma(3) / (sqrt(5 pi) gamma(2.5)) = 0.3796.
pub(crate) const LN_T_PEAK: f64 = -0.968_6;
