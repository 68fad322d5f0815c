//! Where a film's sound lies in a take: the offset and the drift of the camera's clock against the recorder's.
//!
//! The same playing, heard twice: once by the recorder, once by the camera's own microphone, through another room and
//! another clock. [`match_sounds`] lays one over the other in three steps, coarse to fine:
//! onset strength in bands against onset strength ([`envelope`], [`coarse`]), then waveform against waveform in windows
//! of about a second ([`windows`]), then a line through what the windows say ([`mod@line`]). Another take of the same drill
//! has the same grid, so the first step cannot tell it from this one; in the third the windows of another take
//! contradict each other by some milliseconds each, and the match is refused. [`film_of`] does it for two files.
//!
//! Conventions: film seconds = `offset` + take seconds * (1 + `drift`). Both count from the first sample handed in. What
//! the sound needs from the string to the camera (about 3 ms a metre) is part of the offset and cannot be told from it.

pub mod coarse;
pub mod envelope;
mod error;
mod film;
pub mod line;
mod narrow;
mod sound;
pub mod windows;

pub use error::NoMatch;
pub use film::{CameraError, GoOn, film_of};
pub use narrow::{LONGEST_HOURS, Narrow, Narrower, RATE_HZ};
pub use sound::{Clocks, match_sounds};
