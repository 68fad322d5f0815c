//! The second look at a take, knowing which notes to expect.

mod model;

pub use model::{Envelope, ExtraMeasure, Known, Measured, NoteMeasure};
