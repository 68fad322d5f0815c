//! Lines that train one change and no other.
//!
//! Where the whole line does (even runs leave on one stroke only; odd runs to and fro between two strings are all
//! outside or all inside) it is used. Else each unit is a run on one string and a run on the next, then a rest: the
//! way back comes after the rest, is marked and not counted, and the strokes start over.

use super::fingering;
use super::line::{runs, steps, text};
use super::options::{Aim, Direction, MakeOptions, refuse};
use super::plan::{Plan, finish, words};
use crate::{ChangeKind, DrillError, Fingered, LineNote, Picking, Sounding, Step, Stroke, change_counts};

pub(super) fn plan(options: &MakeOptions, aim: Aim, remarks: &mut Vec<String>) -> Result<Plan, DrillError> {
    let whole = match aim {
        Aim::LeavesOn(stroke) => even_runs(options, stroke)?,
        Aim::Only(kind @ (ChangeKind::Outside | ChangeKind::Inside)) => to_and_fro(options, kind)?,
        _ => None,
    };
    if let Some(plan) = whole.filter(|p| reaches(options, p, aim)) {
        if plan.line.iter().any(|s| matches!(s, Step::Note(n) if n.sounding != Sounding::Picked)) {
            remarks
                .push("One note of each odd run is hammered on or pulled off, so that it takes no stroke.".to_owned());
        }
        return Ok(plan);
    }
    let plan = with_rests(options, aim)?;
    if !reaches(options, &plan, aim) {
        return refuse(
            "aim",
            words(aim),
            format!("a change that this line can have; the nearest line is {}", text(&plan.line)),
        );
    }
    remarks.push(
        "The way back comes after a rest: its first note is marked r (return) and the change to it is not counted; \
         strokes start over after each rest."
            .to_owned(),
    );
    Ok(plan)
}

/// Whether the aimed change is there, and nothing else is counted, seam included.
fn reaches(options: &MakeOptions, plan: &Plan, aim: Aim) -> bool {
    let copy = Plan { line: plan.line.clone(), ..*plan };
    let Ok(drill) = finish(options, copy) else { return false };
    let counts = change_counts(&drill.repeated(3).grid());
    !counts.is_empty() && counts.iter().all(|c| aim.meets(&c.change))
}

/// The whole line in runs that take an even number of strokes, so that all leave on one.
fn even_runs(options: &MakeOptions, leaves_on: Stroke) -> Result<Option<Plan>, DrillError> {
    if options.roll.is_some() || options.sequence.is_some() || options.notes_a_string.contains(&1) {
        return Ok(None);
    }
    let rising = runs(options)?;
    let falling: Vec<Vec<Fingered>> = rising.iter().rev().map(|r| r.iter().rev().copied().collect()).collect();
    let runs = match options.direction {
        Direction::Ascending => rising,
        Direction::Descending => falling,
        Direction::Both => [rising, falling].concat(),
    };
    let mut line = Vec::new();
    for run in &runs {
        let mut run_steps = steps(run);
        if run.len() % 2 == 1
            && let (Some(Step::Note(second)), [a, b, ..]) = (run_steps.get_mut(1), run.as_slice())
        {
            second.sounding = if b.fret > a.fret { Sounding::HammerOn } else { Sounding::PullOff };
        }
        line.append(&mut run_steps);
    }
    Ok(Some(Plan { line, picking: Picking::Alternate, first_stroke: leaves_on.other(), restart: false }))
}

/// Odd runs between two strings, there and back: both ways are of one kind.
fn to_and_fro(options: &MakeOptions, kind: ChangeKind) -> Result<Option<Plan>, DrillError> {
    let count = options.notes_a_string.first().copied().unwrap_or(1);
    if count % 2 == 0 || options.direction != Direction::Both || options.sequence.is_some() || options.roll.is_some() {
        return Ok(None);
    }
    let mut line = Vec::new();
    for (from, to) in pairs(options, true)?.into_iter().take(1) {
        let there = fingering::run(options, from, count)?;
        let back: Vec<Fingered> = fingering::run(options, to, count)?.into_iter().rev().collect();
        for _ in 0..2 {
            line.append(&mut steps(&there));
            line.append(&mut steps(&back));
        }
    }
    // An odd run leaves on the stroke that it started on; toward string 1 a downstroke makes it outside.
    let first_stroke = if kind == ChangeKind::Outside { Stroke::Down } else { Stroke::Up };
    Ok(Some(Plan { line, picking: Picking::Alternate, first_stroke, restart: false }))
}

/// Neighbouring strings of the line (with skips, those that many apart), from the first string on.
fn pairs(options: &MakeOptions, toward_one: bool) -> Result<Vec<(u8, u8)>, DrillError> {
    let (from, to) = options.strings();
    let jump = options.skip + 1;
    let toward: Vec<(u8, u8)> = (to..=from.saturating_sub(jump)).rev().map(|low| (low + jump, low)).collect();
    if toward.is_empty() {
        return refuse("strings", format!("{from} to {to}"), "two strings at least, and so many more as are skipped");
    }
    Ok(if toward_one { toward } else { toward.into_iter().rev().map(|(a, b)| (b, a)).collect() })
}

/// A run on each string of a pair, then a rest.
fn with_rests(options: &MakeOptions, aim: Aim) -> Result<Plan, DrillError> {
    let falling = options.direction == Direction::Descending;
    // On downstrokes alone the same stroke comes again on the way from string 1, or over a skip.
    let toward_one = !(falling || aim == Aim::Only(ChangeKind::SameStroke) && options.skip == 0);
    let pairs = match aim {
        Aim::Change { from, to } => vec![(from, to)],
        _ => pairs(options, toward_one)?,
    };
    let strings = options.tuning.strings();
    if let Some((a, b)) = pairs.iter().find(|(a, b)| a == b || !(1..=strings).contains(a) || !(1..=strings).contains(b))
    {
        return refuse(
            "change",
            format!("from string {a} to {b}"),
            format!("two different strings from 1 to {strings}"),
        );
    }
    let counts = &options.notes_a_string;
    let count = counts.first().copied().unwrap_or(2);
    let away = match pairs.first() {
        Some((a, b)) => a < b,
        None => false,
    };
    // The stroke that goes toward the new string.
    let toward = if away { Stroke::Up } else { Stroke::Down };
    let (picking, leaves_on) = match aim {
        Aim::Only(ChangeKind::Outside) => (Picking::Alternate, Some(toward)),
        Aim::Only(ChangeKind::Inside) => (Picking::Alternate, Some(toward.other())),
        Aim::Only(ChangeKind::Sweep) => (Picking::Economy, Some(toward)),
        Aim::Only(ChangeKind::SameStroke) => (Picking::Down, None),
        Aim::LeavesOn(stroke) => (Picking::Alternate, Some(stroke)),
        Aim::Change { .. } => (options.picking, None),
    };
    let first_stroke = leaves_on.map_or(options.first_stroke, |l| if count % 2 == 1 { l } else { l.other() });
    let mut line = Vec::new();
    for (i, (from, to)) in pairs.into_iter().enumerate() {
        let next = counts.get((i + 1) % counts.len().max(1)).copied().unwrap_or(count);
        let mut here = fingering::run(options, from, count)?;
        let mut there = fingering::run(options, to, next)?;
        if away {
            here.reverse();
            there.reverse();
        }
        let mut unit: Vec<Step> = here.iter().chain(&there).map(|f| Step::Note(LineNote::picked(vec![*f]))).collect();
        if let Some(Step::Note(first)) = unit.first_mut() {
            first.way_back = true;
        }
        // At least two silent steps, up to the next beat.
        let full = (unit.len() + 2).next_multiple_of(usize::from(options.steps_per_beat.max(1)));
        unit.resize(full, Step::Silent);
        line.append(&mut unit);
    }
    Ok(Plan { line, picking, first_stroke, restart: true })
}
