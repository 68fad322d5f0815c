//! Second thoughts about candidates, when the threshold is known.

use super::evidence::STRONGER_NEAR_MS;
use std::f64::consts::FRAC_1_SQRT_2;

/// What speaks against a candidate counts so much, octaves.
pub(crate) const DOUBT: f64 = -3.0;
/// A sound stands apart, and its end is its own, if no other attack comes within so long, ms. By reasoning: longer than
/// the tenth of a second over which its decay is followed.
pub(crate) const APART_MS: f64 = 110.0;

/// A knock or a dead string: softer than the loud notes by this, dB, ...
pub(crate) const KNOCK_SOFTER_DB: f64 = -5.0;
/// ... this of it left after 65 ms, dB, ...
pub(crate) const KNOCK_LEFT_DB: f64 = -8.0;
/// ... and less than is usual here, by this, dB: a take of damped strings is not a take of knocks.
pub(crate) const KNOCK_UNUSUAL_DB: f64 = -6.0;
/// What more than this share of the attacks are like is played so: damped notes between open ones.
pub(crate) const KNOCKS_AT_MOST: f64 = 0.2;

/// A click: softer still, dB, ...
pub(crate) const CLICK_SOFTER_DB: f64 = -10.0;
/// ... and what was there before is all that is left of it, within this ratio of powers: 0.5 dB.
pub(crate) const CLICK_ADDS: f32 = 1.12;

/// A soft note beside loud ones: where the recording has few sounds between noise and note, at most this share of the
/// attacks, ...
pub(crate) const CLUTTER: f64 = 0.2;
/// ... half an octave below the threshold is enough for one ...
pub(crate) const ENOUGH_APART: f64 = FRAC_1_SQRT_2;
/// ... that no other attack is as near as this, ms.
pub(crate) const NOTHING_NEAR_MS: f64 = STRONGER_NEAR_MS;
