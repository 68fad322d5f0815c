//! Every constant that steers which attack is taken for which note, a file a subject: unit, meaning, how it was found.
//!
//! Where nothing else is said, a constant was chosen by hand; the takes of two recorded guitars that
//! reports/accuracy.md is of were in sight, so its figures say little about it. reports/guitars.md and reports/slips.md
//! have figures for others. "By reasoning" gives a reason, not a measurement.
//!
//! Costs and prices are natural-log units against what `cost` compares with. A usual distance is the line's median gap
//! between neighbouring notes at the tempo in question.
//!
//! What is not here: tolerances of rounding, and numbers that keep a logarithm or a quotient finite.

pub(crate) mod cost;
pub(crate) mod passes;
pub(crate) mod path;
pub(crate) mod pitch;
pub(crate) mod refine;
pub(crate) mod tempo;
pub(crate) mod timing;
pub(crate) mod which;
