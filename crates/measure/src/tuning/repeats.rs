//! Which notes played alike are held against each other (`crate::repeats`).

use super::settle::ENOUGH;

/// So many notes played alike are held against each other at a time: bounds memory and work.
pub(crate) const AT_ONCE: usize = 24;
/// So many of the surest are kept for those that come later: as many as are enough to hold a doubtful one against.
pub(crate) const KEPT: usize = ENOUGH;
/// Kept are those that are as sure as this now, ms, one standard deviation, ...
pub(crate) const KEPT_SD_MS: f64 = 0.6;
/// ... and were moved by less than this, ms.
pub(crate) const HARDLY_MS: f64 = 1.0;
/// A note is put elsewhere only where its own sound holds it for possible: within so many ms of a rival place of the
/// locator's, ...
pub(crate) const AT_RIVAL_MS: f64 = 0.7;
/// ... one that has this share of the evidence. Without these two, guitars on which a note's recordings differ were
/// made worse.
pub(crate) const LEAST_SHARE: f64 = 0.02;
