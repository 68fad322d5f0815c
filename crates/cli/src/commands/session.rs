//! `takegauge session`: several takes in the order played, with the rests between them.

use crate::args::{Common, SessionArgs};
use crate::commands::inputs::request;
use crate::commands::which::{journal_at_hand, recognise};
use crate::fault::{Fault, Outcome};
use crate::output;
use crate::output::text_style;
use std::path::Path;
use std::time::SystemTime;
use takegauge_report::{json, session_text};
use takegauge_review::{ScoreReport, SessionTake, session};
use takegauge_take::score;

/// A gap between two files' times is a rest only up to this long: three hours.
const LONGEST_REST_S: f64 = 10_800.0;

pub(crate) fn run(args: &SessionArgs, common: &Common) -> Outcome {
    let first = args.takes.first().ok_or_else(|| Fault::usage("no take was given"))?;
    if !args.rests.is_empty() && args.rests.len() + 1 != args.takes.len() {
        return Err(Fault::usage(format!(
            "--rests: {} rests for {} takes; one between each take and the next is {}",
            args.rests.len(),
            args.takes.len(),
            args.takes.len() - 1
        )));
    }
    if let Some(bad) = args.rests.iter().find(|r| !(r.is_finite() && **r >= 0.0)) {
        return Err(Fault::usage(format!("--rests {bad}: a rest is 0 seconds or more")));
    }
    let told = recognise(&args.inputs, first, journal_at_hand(None, common).as_deref(), &())?;
    if let Some(said) = &told.said {
        output::remark(format_args!("{}: {said}", first.display()));
    }
    let drill = &told.drill;
    let bar = output::progress(args.takes.len() as u64, "scoring", common.quiet);
    let mut reports = Vec::with_capacity(args.takes.len());
    for take in &args.takes {
        reports.push(score(&request(&args.inputs, take, drill)?, &())?);
        if reports.len() == 1 {
            told.borne_out(first, &reports[0])?;
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    let takes: Vec<SessionTake<'_>> = reports
        .iter()
        .enumerate()
        .map(|(i, report)| SessionTake {
            report,
            rest_before_s: rest_before(args, i, report),
            warm_up: i < args.warm_up,
        })
        .collect();
    let report = session(&takes).map_err(Fault::not_scored)?;
    if let Some(path) = &args.json {
        output::write(path, json(&report).as_bytes())?;
        if output::is_stdout(path) {
            return Ok(());
        }
    }
    output::print(&session_text(&report, text_style()))
}

/// As `--rests` says, else from the files' times: a take's file is taken to be finished when its recording ends.
fn rest_before(args: &SessionArgs, i: usize, report: &ScoreReport) -> Option<f64> {
    let before = i.checked_sub(1)?;
    if !args.rests.is_empty() {
        return args.rests.get(before).copied();
    }
    let ended = written(args.takes.get(before)?)?;
    let gap = written(args.takes.get(i)?)?.duration_since(ended).ok()?.as_secs_f64() - report.take.duration_s;
    (0.0..=LONGEST_REST_S).contains(&gap).then_some(gap.round())
}

fn written(path: &Path) -> Option<SystemTime> {
    std::fs::metadata(path).and_then(|m| m.modified()).ok()
}
