//! How a left string is followed through a change of string (`crate::partials`, `crate::smear`), and when what is seen
//! is an answer. reports/ringing.md has what the whole reaches on guitars of the string model; reports/accuracy.md on
//! the bench.

use takegauge_units::Millis;

/// Lengths of windows tried, s, shortest first: short ones time better, long ones separate closer partials.
pub(crate) const WINDOWS_S: [f64; 4] = [0.025, 0.035, 0.05, 0.07];
const LONGEST_WINDOW_S: f64 = WINDOWS_S[WINDOWS_S.len() - 1];
/// Distance of two values of a trace, s.
pub(crate) const HOP_S: f64 = 3e-3;
/// A trace begins so long before the attack, s: the longest window and more.
pub(crate) const BEFORE_S: f64 = 25.0 * HOP_S;
const _: () = assert!(BEFORE_S > LONGEST_WINDOW_S);
/// And ends so long after it, s.
pub(crate) const AFTER_S: f64 = 150.0 * HOP_S;
/// Sound that must be at hand around the attack, s: the trace, half a window beyond it, and the low-pass's reach.
pub(crate) const STRETCH_S: (f64, f64) =
    (BEFORE_S + 0.5 * LONGEST_WINDOW_S + 0.01, AFTER_S + 0.5 * LONGEST_WINDOW_S + 0.015);
/// The sound over which the two notes' pitches are tuned lasts at least and at most so long, s: as long as the windows.
pub(crate) const TUNED_OVER_S: (f64, f64) = (WINDOWS_S[0], LONGEST_WINDOW_S);
/// Guitars are this far off their nominal pitch at most, cents.
pub(crate) const MISTUNED_CENTS: f64 = 36.0;

/// A partial is free of another's if they lie this far apart, over the inverse of the window's length: a Hann window's
/// first zero is at 2, and at 1.8 its main lobe is 27 dB down (computed).
pub(crate) const APART: f64 = 1.8;
/// Partials weaker than this share of the strongest free one are left out.
pub(crate) const WEAKEST: f64 = 0.05;
/// A moment counts where the partials that are free then had more than this share of the power: a small part of the
/// partials speaks for the note, but not a tiny one.
pub(crate) const LEAST_POWER: f64 = 0.05;
/// A level counts as no more than so many times that before the attack.
pub(crate) const HIGHEST_RATIO: f64 = 1.5;
/// A string whose followed partials are below this amplitude just before the attack is silent: -80 dBFS.
pub(crate) const SILENT: f64 = 1e-4;

/// Of windows' answers the one of least cost is taken, in units of a mean deviation: a longer window costs so much a
/// second,
pub(crate) const WINDOW_COST: f64 = 1.2;
/// doubt so much a second between the decays that fit alike,
pub(crate) const RANGE_COST: f64 = 0.8;
/// a level left over so much of it,
pub(crate) const FLOOR_COST: f64 = 0.1;
/// and so much if the free partials' share of the note's strongest one is below the first.
pub(crate) const THIN_SHARE: f64 = 0.1;
pub(crate) const THIN_COST: f64 = 0.05;

/// Fits of a larger mean deviation are none.
pub(crate) const WORST_MISFIT: f64 = 0.2;
/// A level still so high (over that before the attack) where the trace ends has not been heard to fall.
pub(crate) const NOT_DOWN: f64 = 0.5;
/// Nor is an answer one that lies nearer than this share of the window to where the string is struck again.
pub(crate) const NEAR_THE_END: f64 = 0.25;
/// Doubt accepted between decays that fit alike: so many s, and so much of the answer.
pub(crate) const DOUBT: (f64, f64) = (0.04, 0.15);
/// Shorter times drown in the windows' own lengths; they are given as this.
pub const SHORTEST_SMEAR: Millis = Millis(33.0);
