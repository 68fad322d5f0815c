//! The decays that a left string's level is held against (`crate::decay`).

/// Time constants of the string's own decay, s, the most usual first.
pub(crate) const NATURAL_S: [f64; 3] = [10.0, 0.2, 0.08];
/// Time constants once it is damped, s, the most usual first.
pub(crate) const DAMPED_S: [f64; 4] = [0.004, 0.012, 0.03, 0.08];
/// A less usual decay must fit better by this much a step in either list, mean deviation.
pub(crate) const LESS_USUAL: f64 = 0.010;
/// Damping begins from here on, s after the attack; the hand may leave a little early.
pub(crate) const EARLIEST_S: f64 = -0.009;
/// It begins at the latest so long before the trace ends, s.
pub(crate) const LAST_BEFORE_END_S: f64 = 0.02;
/// Decays are drawn this much finer than the trace.
pub(crate) const FINE: usize = 2;
/// At most this much of the old level may be left over from other notes.
pub(crate) const HIGHEST_FLOOR: f64 = 0.2;
/// Longest gap in a trace, s: what is heard again after a longer one says nothing about when the level fell.
pub(crate) const LONGEST_GAP_S: f64 = 0.025;
/// Values after the attack that a fit needs, their weights (0 to 1 each) added up.
pub(crate) const LEAST_HEARD: f64 = 4.0;
/// Decays that fit nearly as well (mean deviation within this much) might be the true one as well.
pub(crate) const NEARLY: f64 = 0.006;
/// In how far these disagree, answers later than so long after the end of what can be heard are all one, s.
pub(crate) const BEYOND_S: f64 = 0.02;
/// The last level heard is the mean of so many values.
pub(crate) const LAST_LEVELS: usize = 2;
