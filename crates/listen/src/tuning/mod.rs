//! Every constant that steers what is heard, a file a subject: unit, meaning, how it was found. Those of the nets are
//! in `takegauge_locate`.
//!
//! Where nothing else is said, a constant was chosen by hand; the takes of two recorded guitars that
//! reports/accuracy.md is of were in sight, so its figures say little about it. reports/guitars.md has figures for
//! guitars that were not. "By reasoning" gives a reason, not a measurement.
//!
//! What is not here: lengths of filters and buffers (`halfband`, `bank`, `PIECE`), numbers that keep a logarithm or
//! a quotient finite, and the settings of others' methods in [`crate::plain`], which stand there with their source.

pub(crate) mod appeal;
pub(crate) mod at_hand;
pub(crate) mod attack;
pub(crate) mod decide;
pub(crate) mod evidence;
pub(crate) mod flux;
pub(crate) mod frames;
pub(crate) mod peaks;
pub(crate) mod pitch;
pub(crate) mod transient;
