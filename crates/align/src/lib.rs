//! Which attack is which note of the drill.

mod model;

pub use model::{
    AlignError, Alignment, Extra, Options, Pass, Placed, SetAside, Status, TempoFrom, Timebase, with_grid,
};
