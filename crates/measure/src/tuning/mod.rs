//! The constants of the second look, a file a subject: unit, meaning, origin.
//!
//! Where nothing else is said, a constant was chosen by hand and was not varied by itself. The bench's two guitars
//! (reports/accuracy.md) were in sight, so its figures there say little; reports/guitars.md has them for guitars that
//! were not. "By reasoning" means that the reason given is all there is; "definition", that it could not be another.
//! Windows that must hold others are sums of them, or checked against them when this is compiled.
//!
//! Names end in their unit (`_S`, `_MS`, `_HZ`, `_CENTS`); what has none is a ratio or a count. A pair is what lies
//! before and after a moment, or the least and the most.

pub(crate) mod alike;
pub(crate) mod decay;
pub(crate) mod extra;
pub(crate) mod lasting;
pub(crate) mod partials;
pub(crate) mod pitch;
pub(crate) mod release;
pub(crate) mod repeats;
pub(crate) mod ringing;
pub(crate) mod rise;
pub(crate) mod second_look;
pub(crate) mod settle;
pub(crate) mod sought;
pub(crate) mod sound;
