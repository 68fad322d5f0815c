//! From measured notes to what a report says: pure functions from an aligned, measured take to data.

mod caution;
mod figures;
mod groups;
mod reliability;
mod report;
mod residuals;
mod round;
mod score;
mod tables;
mod take;
#[cfg(test)]
mod testing;

pub use caution::caution;
pub use report::{STROKES_NOTE, score};
pub use score::*;
pub use take::{Input, Mode};
