//! Drill files (version 1), pick strokes, string changes and the note grid.

mod model;

pub use model::{
    AfterGap, Change, ChangeKind, Drill, Fingered, GridNote, LineNote, Picking, Sounding, Step, Stroke, Tuning,
};
