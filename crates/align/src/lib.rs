//! Which attack is which note of the drill.
//!
//! Attacks are paired with notes by least cost along an order-preserving path, never by a hit window: a window cuts
//! the errors that are to be measured. Deviation is played minus expected, so + is late. Times are the take's own.

mod align;
mod click;
mod cost;
mod line;
mod model;
mod passes;
mod path;
mod pitch;
mod refine;
mod refit;
mod tempo;
mod tuning;
mod which;

pub use align::{align, align_told};
pub use model::{
    AlignError, Alignment, Extra, Options, Pass, Placed, SetAside, Status, TempoFrom, Timebase, with_grid,
};
pub use refit::refit;
pub use which::{evidence, resemblance};
