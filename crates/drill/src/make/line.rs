//! The notes of a made line: runs, string orders, rolls.

use super::fingering;
use super::options::{Direction, MakeOptions, refuse};
use crate::line::write_step;
use crate::{DrillError, Fingered, LineNote, Step};

/// The notes of a line without an aim, in order.
pub(super) fn notes(options: &MakeOptions) -> Result<Vec<Fingered>, DrillError> {
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
pub(super) fn runs(options: &MakeOptions) -> Result<Vec<Vec<Fingered>>, DrillError> {
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

pub(super) fn steps(notes: &[Fingered]) -> Vec<Step> {
    notes.iter().map(|f| Step::Note(LineNote::picked(vec![*f]))).collect()
}

/// A line as text, for remarks.
pub(super) fn text(line: &[Step]) -> String {
    line.iter().map(write_step).collect::<Vec<_>>().join(" ")
}
