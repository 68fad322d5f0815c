//! From a line and how it is picked to a drill.

use super::options::{Aim, MakeOptions};
use crate::{AfterGap, ChangeKind, Drill, DrillError, Picking, Sounding, Step, Stroke};

/// A line on the way to a drill.
pub(super) struct Plan {
    pub(super) line: Vec<Step>,
    pub(super) picking: Picking,
    pub(super) first_stroke: Stroke,
    pub(super) restart: bool,
}

/// The drill of a line that was made.
pub(super) fn finish(options: &MakeOptions, plan: Plan) -> Result<Drill, DrillError> {
    let name = match options.aim {
        None => options.scale.name().to_owned(),
        Some(aim) => format!("{}, {}", options.scale.name(), words(aim)),
    };
    let mut line = plan.line;
    // The written way needs a stroke on every note: they are those of alternate strokes.
    if plan.picking == Picking::Written {
        let mut stroke = plan.first_stroke;
        for step in &mut line {
            if let Step::Note(note) = step
                && note.sounding == Sounding::Picked
            {
                note.written_stroke = Some(stroke);
                stroke = stroke.other();
            }
        }
    }
    let drill = Drill {
        steps_per_beat: options.steps_per_beat,
        repeats: options.repeats,
        picking: plan.picking,
        first_stroke: plan.first_stroke,
        after_gap: if plan.restart { AfterGap::Restart } else { AfterGap::Next },
        line,
        ..Drill::plain(name, options.tempo, options.tuning.clone())
    };
    Drill::parse(&drill.to_toml(), "made drill")
}

/// What an aim trains, in words.
pub(super) fn words(aim: Aim) -> String {
    match aim {
        Aim::Only(ChangeKind::Outside) => "outside changes only".to_owned(),
        Aim::Only(ChangeKind::Inside) => "inside changes only".to_owned(),
        Aim::Only(ChangeKind::Sweep) => "sweeps only".to_owned(),
        Aim::Only(ChangeKind::SameStroke) => "same stroke only".to_owned(),
        Aim::LeavesOn(Stroke::Up) => "leaving on upstrokes".to_owned(),
        Aim::LeavesOn(Stroke::Down) => "leaving on downstrokes".to_owned(),
        Aim::Change { from, to } => format!("from string {from} to {to}"),
    }
}
