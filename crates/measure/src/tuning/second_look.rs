//! What is kept of a take's sound, and the stretches in which an event's level is read and its instant sought. The
//! stretches of the other looks stand with those looks.

use super::{alike, lasting, pitch, release, ringing, rise, sought};
use takegauge_locate::REACH_MS;
use takegauge_units::{Hertz, Millis};

/// How far an event may be moved from where it was heard or expected, s: sought, and then put where the locator says.
const MOVED_S: f64 = sought::REACH_S + sought::STEP_S + 1e-3 * REACH_MS;
/// Sound after an event that is waited for, s: the longest stretch, and room for the event's being moved later.
pub(crate) const AHEAD_S: f64 = ringing::STRETCH_S.1 + 0.05;
/// Sound before an event that is kept, s: the same towards the past.
pub(crate) const BEHIND_S: f64 = ringing::STRETCH_S.0 + 0.08;
const _: () = {
    let looks = [
        ringing::STRETCH_S,
        pitch::STRETCH_S,
        lasting::STRETCH_S,
        release::STRETCH_S,
        rise::STRETCH_S,
        alike::STRETCH_S,
        LOCATE_STRETCH_S,
        (SOUNDED_OVER_S.0, LEVEL_OVER_S),
    ];
    let mut k = 0;
    while k < looks.len() {
        assert!(BEHIND_S > looks[k].0 + MOVED_S && AHEAD_S > looks[k].1 + MOVED_S);
        k += 1;
    }
    // What an expected note is sought by lies further back.
    assert!(BEHIND_S > sought::REACH_S + sought::STEP_S + sought::SEEN_BEFORE_S + lasting::STRETCH_S.0);
    assert!(BEHIND_S > sought::REACH_S + sought::ANOTHER_BEFORE_S + pitch::STRETCH_S.0);
};

/// The level is the highest sample from the attack on to so long after it, s: the pick's transient and the first
/// periods.
pub(crate) const LEVEL_OVER_S: f64 = 0.03;
/// What sounded already is the highest sample from so long before the attack to so long before it, s. The first is a
/// period at 62 Hz, so that a low string's peak is among them; the second keeps the new note's own beginning out. By
/// reasoning.
pub(crate) const SOUNDED_OVER_S: (f64, f64) = (0.016, 0.002);
/// The sound that the locator is given around a rough instant, s: more than its larger net looks at, 81 ms to either
/// side.
pub(crate) const LOCATE_STRETCH_S: (f64, f64) = (0.1, 0.1);
/// How far the first look's instant lies from the attack, one standard deviation: what the locator's nets are fitted
/// with. What the first look says of its own error is not used: the same evidence would count twice.
pub(crate) const FIRST_LOOK_SD: Millis = Millis(4.0);
/// Uncertainty of a note's instant that comes without one, s.
pub(crate) const UNSURE_S: f64 = 2e-3;

/// A note is taken to ring at most so long, unless its string is struck again before, s: enough to mind its partials.
pub(crate) const RINGS_S: f64 = 0.8;
/// Notes struck earlier or later than this are not minded, s. Any that is taken to ring still must be.
pub(crate) const NEIGHBOURS_S: f64 = 1.0;
const _: () = assert!(NEIGHBOURS_S > RINGS_S);
/// A4 of the pitch that an attack was heard with. Definition: listening names keys by it.
pub(crate) const CONCERT: Hertz = Hertz(440.0);
