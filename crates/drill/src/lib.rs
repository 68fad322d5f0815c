//! Drill files (version 1), pick strokes, string changes and the note grid.

pub mod advise;
pub mod alter;
mod built_in;
mod changes;
mod check;
mod error;
mod grid;
mod line;
pub mod make;
mod model;
mod read;
mod show;
pub mod timing;
mod tuning;
mod words;
mod write;

pub use built_in::{BuiltIn, built_in, named};
pub use changes::{ChangeCount, Leaving, change_counts, kind_words, leaving, stroke_words};
pub use check::{Doubt, DoubtKind};
pub use error::{DrillError, Place};
pub use grid::kind_of;
pub use line::{MAX_FRET, MAX_STEPS, write_step};
pub use model::{
    AfterGap, Change, ChangeKind, Drill, Fingered, GridNote, LineNote, Picking, Sounding, Step, Stroke, Tuning,
};
pub use read::{KEYS, MAX_BYTES, MAX_NOTES, read_bounded};
pub use show::LEGEND;
pub use tuning::NAMED_TUNINGS;
pub use words::Worded;
