//! The search for the least-cost path: what its runs may begin and end with, how far the grid moves, how much is kept.

/// By so much an attack may sound unlike a note inside the line and yet begin a run there.
pub(crate) const WORST_START: f64 = 1.0;
/// The same where it is only asked whether there is any path: the sound must speak for the note.
pub(crate) const SURE_START: f64 = -0.5;
/// A timing cost is never below this. By reasoning: a note exactly in time costs -5.9 where the scatter is a thousandth
/// of the usual distance.
pub(crate) const BEST_TIMING: f64 = -8.0;
/// The price of any run but the one before going on: a restart is rare, and so is a drill begun.
pub(crate) const BREAK: f64 = 10.0;
/// The price of beginning inside the line rather than at its first note, besides stating where.
pub(crate) const INSIDE: f64 = 2.0;
/// The price of breaking off inside the line rather than at its end.
pub(crate) const BROKEN_OFF: f64 = 2.0;
/// The price of beginning right after another attack, or ending right before one: a player takes breath.
pub(crate) const ABRUPT: f64 = 4.0;
/// What is right after, usual distances.
pub(crate) const RIGHT_AFTER: f64 = 1.5;

/// Tempo wanders by this share a note: standard deviation.
pub(crate) const WANDER: f64 = 0.005;
/// The grid itself wanders by this share of the scatter a note: standard deviation.
pub(crate) const SWAY: f64 = 0.15;
/// A timing error beyond this many standard deviations moves the grid no further than one of this many; where the note
/// is later than that, the player may have hesitated.
pub(crate) const PULL: f64 = 2.5;
/// A note may bring the time for each drill second down to this share of what it was, no further: time runs forward.
pub(crate) const LEAST_RATE: f64 = 0.05;

/// A path is given up that costs so much more than the best one, besides what the two may yet differ by in beginning
/// and ending.
pub(crate) const BEAM: f64 = 4.0;
/// Cells kept for each attack: bounds the cost of long lines.
pub(crate) const WIDEST: usize = 600;
/// The same where it is only asked whether there is any path at all.
pub(crate) const NARROW: usize = 32;
