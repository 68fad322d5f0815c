//! The second look at a take, knowing which notes to expect.

mod envelope;
mod events;
mod model;
mod second_look;

pub use model::{Envelope, ExtraMeasure, Known, Measured, NoteMeasure};
pub use second_look::SecondLook;
