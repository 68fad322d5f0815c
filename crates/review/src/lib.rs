//! From measured notes to what a report says: pure functions from an aligned, measured take to data.

mod score;

pub use score::*;
