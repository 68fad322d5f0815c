//! `score --ladder-file`: one long recording to a rising click, scored step by step.

use crate::args::{Common, ScoreArgs};
use crate::commands::score::{drill_for, request, text_style};
use crate::fault::{Fault, Outcome};
use crate::output;
use crate::pipeline::{self, Ear, Heard, Stretch};
use indicatif::ProgressBar;
use std::path::Path;
use takegauge_align::Timebase;
use takegauge_click::{ClickStep, lag, read_ladder_table};
use takegauge_drill::Drill;
use takegauge_report::{Format, Size, json, ladder_csv, ladder_html, ladder_plot, ladder_text};
use takegauge_review::{LadderReport, ScoreReport};
use takegauge_units::{Attack, Seconds};

/// A player to a click is rarely further off than this (common practice, no source).
const WITHIN: Seconds = Seconds(0.03);
/// Notes that must be found where a beginning puts them, in a hundred.
const ENOUGH_PCT: usize = 40;
/// What follows the last step's last note still belongs to it.
const TAIL: Seconds = Seconds(2.0);

pub(crate) fn run(args: &ScoreArgs, table: &Path, common: &Common) -> Outcome {
    let drill = drill_for(&args.inputs, &args.take)?;
    let steps = read(table)?;
    let channel = pipeline::channel(&args.inputs.channel)?;
    let bar = output::progress(0, "listening", common.quiet);
    let heard = pipeline::hear(&args.take, channel, Ear::ForScoring, &bar)?;
    let begins = match (args.click_start, steps.first()) {
        (Some(s), Some(first)) => Seconds(s) - first.notes_from,
        _ => {
            let (begins, said) = begins(&heard, &drill, &steps)?;
            if !common.quiet {
                eprintln!("takegauge: {said}");
            }
            begins
        }
    };
    bar.finish_and_clear();
    let reports = score_steps(args, &drill, &steps, &heard, begins, common.quiet)?;
    give(args, &takegauge_review::ladder(&reports, args.inputs.seed).map_err(Fault::not_scored)?)
}

fn read(table: &Path) -> Outcome<Vec<ClickStep>> {
    let text = std::fs::read_to_string(table).map_err(|e| Fault::usage(format!("{}: {e}", table.display())))?;
    let steps = read_ladder_table(&text, &table.display().to_string())
        .map_err(|e| Fault::usage(e).advise("`takegauge click DRILL --tempo 100,110,... --table FILE` writes it"))?;
    if steps.len() < 2 {
        return Err(Fault::usage(format!("{}: a ladder has two steps or more", table.display())));
    }
    Ok(steps)
}

/// The drill as one step asks for it.
fn at_step(drill: &Drill, step: &ClickStep) -> Drill {
    Drill { tempo: step.tempo, repeats: step.repeats, ..drill.clone() }
}

/// Where in the take the click track began, and how that was found: where most notes fall on their places.
fn begins(heard: &Heard, drill: &Drill, steps: &[ClickStep]) -> Outcome<(Seconds, String)> {
    let attacks: Vec<Seconds> =
        heard.attacks.iter().filter(|a| a.strength >= 1.0).map(|a| a.at.seconds(heard.rate)).collect();
    let notes = |step: &ClickStep| -> Vec<Seconds> {
        let grid = at_step(drill, step).grid();
        grid.iter().filter(|n| n.picked()).map(|n| step.notes_from + n.expected).collect()
    };
    let expected: Vec<Seconds> = steps.iter().flat_map(notes).collect();
    let track = steps.last().map_or(Seconds(0.0), |s| s.notes_to);
    let found = lag(&attacks, &expected, (-track, heard.take.duration_s), WITHIN);
    let fits = found.as_ref().map_or(0, |f| f.pairs.len());
    match found {
        Some(f) if 100 * fits >= ENOUGH_PCT * expected.len() => {
            let said = format!(
                "the click track began at {:.2} s of the take: {fits} of {} notes fall near their places there",
                f.at.0,
                expected.len()
            );
            Ok((f.at, said))
        }
        _ => Err(Fault::not_scored(format!(
            "{}: no place for the click track was found; at the best one {fits} of {} notes fall near their places",
            heard.take.path,
            expected.len()
        ))
        .advise("check the drill and the table, or say with --click-start where the first step's notes begin")),
    }
}

/// One report a step that can be scored; the others are named on standard error.
fn score_steps(
    args: &ScoreArgs,
    drill: &Drill,
    steps: &[ClickStep],
    heard: &Heard,
    begins: Seconds,
    quiet: bool,
) -> Outcome<Vec<ScoreReport>> {
    let bar = output::progress(steps.len() as u64, "measuring", quiet);
    let mut reports = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        // Cuts lie in the middle of the rest between two steps.
        let from = match i.checked_sub(1).and_then(|b| steps.get(b)) {
            Some(before) => begins + (before.notes_to + step.notes_from) * 0.5,
            None => begins + step.click_from,
        };
        let until = begins + steps.get(i + 1).map_or(step.notes_to + TAIL, |n| (step.notes_to + n.notes_from) * 0.5);
        let played = at_step(drill, step);
        let mut request = request(&args.inputs, &args.take, &played)?;
        request.tempo = Some(step.tempo);
        let attacks = between(heard, from, until);
        let timebase = match args.click_start {
            Some(_) => {
                let beat = played.step_seconds() * f64::from(played.steps_per_beat.max(1));
                Timebase::Click(pipeline::even_beats(begins + step.notes_from, beat, until))
            }
            None => Timebase::Steady,
        };
        let stretch = Stretch { attacks, until: Some(until), timebase };
        match pipeline::judge(&request, heard, stretch, &ProgressBar::hidden()) {
            Ok(mut report) => {
                report.take.path = format!("{}, step {}", heard.take.path, i + 1);
                reports.push(report);
            }
            Err(fault) => eprintln!("takegauge: step {} at {} bpm is left out: {fault}", i + 1, step.tempo.0),
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    if reports.len() < 2 {
        let n = steps.len();
        return Err(Fault::not_scored(format!("{} of {n} steps could be scored: no ladder", reports.len())));
    }
    Ok(reports)
}

fn between(heard: &Heard, from: Seconds, until: Seconds) -> &[Attack] {
    let first = heard.attacks.partition_point(|a| a.at.seconds(heard.rate) < from);
    let end = heard.attacks.partition_point(|a| a.at.seconds(heard.rate) < until);
    heard.attacks.get(first..end).unwrap_or(&[])
}

fn give(args: &ScoreArgs, report: &LadderReport) -> Outcome {
    if let Some(path) = &args.json {
        output::write(path, json(report).as_bytes())?;
    }
    if let Some(stem) = &args.csv {
        output::write(&super::score::with_suffix(stem, "-ladder.csv"), ladder_csv(report).as_bytes())?;
    }
    if let Some(path) = &args.html {
        output::write(path, ladder_html(report).as_bytes())?;
    }
    if let Some(path) = &args.plot {
        let format = Format::of(path).map_err(Fault::usage)?;
        output::write(path, &ladder_plot(report, Size::default(), format).map_err(Fault::not_scored)?)?;
    }
    if args.json.as_deref().is_some_and(output::is_stdout) {
        return Ok(());
    }
    output::print(&ladder_text(report, text_style()))
}
