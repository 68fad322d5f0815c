//! Where notes are sought that were expected and not heard (`crate::struck`), and what tells that one is there.

use super::lasting;

/// A note is sought so far around where it is expected, s, ...
pub(crate) const REACH_S: f64 = 0.03;
/// ... and over no more than this share of the distance to the nearer neighbour, so that it is not taken for it.
pub(crate) const REACH_OF_GAP: f64 = 0.2;
/// Distance of two places tried, s.
pub(crate) const STEP_S: f64 = 1e-3;
/// What is new is so at a place so long before the attack, s: what is read there lies after the place
/// ([`lasting::AFTER_MS`]).
pub(crate) const SEEN_BEFORE_S: f64 = 0.007;
/// An instant found so is known to about this, s, one standard deviation.
pub(crate) const SD_S: f64 = 2.2e-3;
/// How much must be new: [`lasting::NEW`].
pub(crate) const NEW: f64 = lasting::NEW;

/// A note much softer than the one whose string it stills brings nothing louder: it is known by its pitch taking over.
/// So much must be new over what sounds, and ...
pub(crate) const NEW_OF_SHARE: f64 = 1.2;
/// ... from there on another pitch may explain the sound at most so many times as well as the note's own, ...
pub(crate) const OTHERS_AFTER: f64 = 0.95;
/// ... while before, another explained it at least so many times as well, ...
pub(crate) const OTHERS_BEFORE: f64 = 1.1;
/// ... over at most so much sound before, s, ...
pub(crate) const ANOTHER_BEFORE_S: f64 = 0.08;
/// ... and no note of this pitch was struck in so long a time before, s.
pub(crate) const SOUNDED_S: f64 = 0.3;
