//! Drill files (version 1), pick strokes, string changes and the note grid.

mod error;
mod grid;
mod line;
mod model;
mod read;
mod timing;
mod tuning;
mod write;

pub use error::{DrillError, Place};
pub use grid::kind_of;
pub use line::MAX_FRET;
pub use model::{
    AfterGap, Change, ChangeKind, Drill, Fingered, GridNote, LineNote, Picking, Sounding, Step, Stroke, Tuning,
};
pub use read::{KEYS, MAX_BYTES, MAX_NOTES};
pub use tuning::NAMED_TUNINGS;
