//! Drill files (version 1), pick strokes, string changes and the note grid.

pub mod advise;
pub mod alter;
mod built_in;
mod changes;
mod check;
pub mod click;
mod error;
pub mod export;
mod grid;
pub mod import;
mod line;
pub mod make;
mod model;
mod read;
mod show;
mod smf;
mod timing;
mod tuning;
mod write;

pub use built_in::{BuiltIn, built_in, named};
pub use changes::{ChangeCount, Leaving, change_counts, kind_words, leaving, stroke_words};
pub use check::{Doubt, DoubtKind};
pub use error::{DrillError, Place};
pub use grid::kind_of;
pub use line::MAX_FRET;
pub use model::{
    AfterGap, Change, ChangeKind, Drill, Fingered, GridNote, LineNote, Picking, Sounding, Step, Stroke, Tuning,
};
pub use read::{KEYS, MAX_BYTES, MAX_NOTES};
pub use show::LEGEND;
pub use tuning::NAMED_TUNINGS;
