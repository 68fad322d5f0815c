//! The second look at a take, knowing which notes to expect: refined release times with their uncertainty, level,
//! pitch, how long a string left rings over, and the waveform's outline.

mod alike;
mod butterworth;
mod decay;
mod decimate;
mod dot;
mod envelope;
mod events;
mod kept;
mod lasting;
mod left;
mod matches;
mod model;
mod no_string;
mod other_sounds;
mod partials;
mod pitch;
mod predict;
mod prior;
mod release;
mod repeats;
mod rise;
mod second_look;
mod settle;
mod shares;
mod smear;
mod stroke;
mod struck;
mod tuning;

pub use model::{Envelope, ExtraMeasure, Measured, NoteMeasure};
pub use second_look::SecondLook;
pub use stroke::Stroke;
pub use tuning::ringing::SHORTEST_SMEAR;
