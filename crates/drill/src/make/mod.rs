//! Making drills: from a scale or chord, a position and a number of notes a string to a line; aimed at one kind of
//! string change where asked.

mod aim;
mod fingering;
mod options;
mod scales;

pub use options::{Aim, Direction, MakeOptions};
pub use scales::{SCALES, Scale};

use crate::line::write_step;
use crate::{Drill, DrillError, Fingered, LineNote, Picking, Sounding, Step, Stroke};
use options::check;

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

/// A line on the way to a drill.
pub(crate) struct Plan {
    pub(crate) line: Vec<Step>,
    pub(crate) picking: Picking,
    pub(crate) first_stroke: Stroke,
    pub(crate) restart: bool,
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

fn finish(options: &MakeOptions, plan: Plan) -> Result<Drill, DrillError> {
    let name = match options.aim {
        None => options.scale.name().to_owned(),
        Some(aim) => format!("{}, {}", options.scale.name(), aim::words(aim)),
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
        after_gap: if plan.restart { crate::AfterGap::Restart } else { crate::AfterGap::Next },
        line,
        ..Drill::plain(name, options.tempo, options.tuning.clone())
    };
    Drill::parse(&drill.to_toml(), "made drill")
}

/// The notes of a line without an aim, in order.
pub(crate) fn notes(options: &MakeOptions) -> Result<Vec<Fingered>, DrillError> {
    if let Some(over) = options.roll {
        return roll(options, over);
    }
    let rising = runs(options)?.concat();
    let falling = || rising.iter().rev().copied().collect::<Vec<_>>();
    let grouped = |notes: Vec<Fingered>| match options.sequence {
        Some(group) => notes.windows(usize::from(group)).flatten().copied().collect(),
        None => notes,
    };
    Ok(match options.direction {
        Direction::Ascending => grouped(rising),
        Direction::Descending => grouped(falling()),
        Direction::Both => [grouped(rising.clone()), grouped(falling())].concat(),
    })
}

/// Runs of notes, one a string, in rising order of strings.
pub(crate) fn runs(options: &MakeOptions) -> Result<Vec<Vec<Fingered>>, DrillError> {
    let order = string_order(options)?;
    let mut runs = Vec::new();
    for (string, count) in order.iter().zip(options.notes_a_string.iter().cycle()) {
        runs.push(fingering::run(options, *string, *count)?);
    }
    Ok(runs)
}

/// Strings in the order in which a rising line visits them: with skips 6 4 5 3 4 2 3 1.
fn string_order(options: &MakeOptions) -> Result<Vec<u8>, DrillError> {
    let (from, to) = options.strings();
    if options.skip == 0 {
        return Ok((to..=from).rev().collect());
    }
    let jump = options.skip + 1;
    let order: Vec<u8> = (to..=from.saturating_sub(jump)).rev().flat_map(|low| [low + jump, low]).collect();
    if order.is_empty() {
        return refuse(
            "skip",
            options.skip.to_string(),
            format!("fewer than the {} strings chosen allow", from - to + 1),
        );
    }
    Ok(order)
}

fn roll(options: &MakeOptions, over: u8) -> Result<Vec<Fingered>, DrillError> {
    let (from, to) = options.strings();
    let strings: Vec<u8> = (to..=from).rev().step_by(usize::from(options.skip) + 1).take(usize::from(over)).collect();
    if strings.len() < usize::from(over) {
        return refuse("roll", over.to_string(), format!("as many strings as from {from} to {to} allow"));
    }
    let mut rising = Vec::new();
    for string in strings {
        rising.extend(fingering::run(options, string, 1)?);
    }
    let falling: Vec<Fingered> = rising.iter().rev().copied().collect();
    Ok(match options.direction {
        Direction::Ascending => rising,
        Direction::Descending => falling,
        Direction::Both => {
            let inner = falling.get(1..falling.len() - 1).unwrap_or(&[]);
            [rising.as_slice(), inner].concat()
        }
    })
}

pub(crate) fn steps(notes: &[Fingered]) -> Vec<Step> {
    notes.iter().map(|f| Step::Note(LineNote::picked(vec![*f]))).collect()
}

pub(crate) fn refuse<T>(option: &str, read: String, allowed: impl Into<String>) -> Result<T, DrillError> {
    Err(DrillError::Option { option: option.to_owned(), read, allowed: allowed.into() })
}

/// A line as text, for remarks.
pub(crate) fn text(line: &[Step]) -> String {
    line.iter().map(write_step).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests;
