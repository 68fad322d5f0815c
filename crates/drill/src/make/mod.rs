//! Making drills: from a scale or chord, a position and a number of notes a string to a line; aimed at one kind of
//! string change where asked.

mod aim;
mod fingering;
mod line;
mod options;
mod plan;
mod scales;

pub use options::{Aim, Direction, MakeOptions};
pub use scales::{SCALES, Scale};

use crate::{Drill, DrillError};
use line::{notes, steps};
use options::check;
use plan::{Plan, finish};

/// A drill that was made.
#[derive(Debug, Clone, PartialEq)]
pub struct Made {
    /// The drill.
    pub drill: Drill,
    /// What was done differently from what was asked, and what counts: one sentence each.
    pub remarks: Vec<String>,
    /// How often the hand moves to another position in one playing of the line.
    pub position_shifts: usize,
}

/// Makes a drill.
///
/// # Errors
/// [`DrillError::Option`] for an option out of its range, or a scale that has too few notes under the hand.
pub fn make(options: &MakeOptions) -> Result<Made, DrillError> {
    check(options)?;
    let mut remarks = Vec::new();
    let plan = match options.aim {
        Some(aim) => aim::plan(options, aim, &mut remarks)?,
        None => Plan {
            line: steps(&notes(options)?),
            picking: options.picking,
            first_stroke: options.first_stroke,
            restart: false,
        },
    };
    let drill = finish(options, plan)?;
    let shifts = fingering::shifts(&drill, options.span);
    if shifts > 0 {
        remarks.push(format!("The hand moves to another position {shifts} times in one playing of the line."));
    }
    Ok(Made { drill, remarks, position_shifts: shifts })
}

#[cfg(test)]
mod tests;
