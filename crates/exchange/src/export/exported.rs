//! A drill written in another format, and what that format does not carry.

use takegauge_drill::{Drill, Picking, Step};

/// A drill in another format.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exported {
    /// The whole file.
    pub bytes: Vec<u8>,
    /// What the format does not carry, one sentence each.
    pub losses: Vec<String>,
}

/// Strokes written on single notes hold in every repeat; formats that carry every note's stroke do not tell which.
pub(super) fn stroke_losses(drill: &Drill, losses: &mut Vec<String>) {
    let written = drill.line.iter().any(|s| matches!(s, Step::Note(n) if n.written_stroke.is_some()));
    if written && drill.picking != Picking::Written {
        losses.push("Which strokes were written and which follow from the picking is not carried.".to_owned());
    }
}
