//! How much sound is kept, and waited for, so that no window below reaches beyond it.

use super::attack::{DECAY_BEFORE_MS, DECAY_UNTIL_MS, LEVEL_MS};
use super::flux::AHEAD_MS;
use super::peaks::{PLACED_BEFORE_MS, SURROUNDINGS_MS};
use super::pitch::LONGEST_MS;
use takegauge_locate::REACH_MS;

/// Sound before a candidate that its instant and decay look at, ms: as far as the locator looks, and what was before
/// the earliest attack that it can find.
pub(crate) const BEFORE_MS: f64 = REACH_MS + DECAY_BEFORE_MS[0];
/// To spare, ms.
const SPARE_MS: f64 = 10.0;
/// Sound that must follow a candidate before it is looked at, ms: the longer of what decay and pitch look at.
pub(crate) const AFTER_MS: f64 = DECAY_UNTIL_MS.max(LONGEST_MS) + SPARE_MS;
/// Sound that must follow the recording's beginning before its first sound is looked at, ms: that may begin so much
/// later as its level reaches.
pub(crate) const OPENING_AFTER_MS: f64 = LEVEL_MS + AFTER_MS;
/// A frame waits for half a window and for what the halvings hold back, ms: about 25 together, and as much to spare.
const FRAMES_LATE_MS: f64 = 50.0;
/// Sound kept for candidates still to come, ms: the flux comes late, its peaks later, they wait for what follows, and
/// then look back.
pub(crate) const KEEP_MS: f64 =
    AHEAD_MS + SURROUNDINGS_MS + FRAMES_LATE_MS + AFTER_MS + PLACED_BEFORE_MS + SPARE_MS + BEFORE_MS.max(LONGEST_MS);

/// What is looked at before lies within what is kept for what is looked at afterwards.
const _: () = assert!(BEFORE_MS < DECAY_UNTIL_MS);
/// The recording's beginning is still at hand when its first sound is looked at.
const _: () = assert!(OPENING_AFTER_MS < KEEP_MS);
