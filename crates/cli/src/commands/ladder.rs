//! `takegauge ladder`: one drill at rising tempos.

use crate::args::{Common, LadderArgs};
use crate::commands::inputs::request;
use crate::commands::which::{journal_at_hand, recognise};
use crate::fault::{Fault, Outcome};
use crate::output;
use crate::output::text_style;
use serde::Deserialize;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use takegauge_report::{Format, Size, json, ladder_csv, ladder_html, ladder_plot, ladder_text};
use takegauge_review::{LadderReport, ScoreReport};
use takegauge_take::score;
use takegauge_units::Bpm;

/// A list of takes and their tempos.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct List {
    take: Vec<Listed>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Listed {
    path: PathBuf,
    tempo_bpm: Option<f64>,
}

pub(crate) fn run(args: &LadderArgs, common: &Common) -> Outcome {
    let takes = takes(args)?;
    each_once(&takes)?;
    let first = takes.first().ok_or_else(|| match &args.list {
        Some(list) => Fault::usage(format!("{}: there is no take in this list", list.display())),
        None => Fault::usage("which takes? None was named")
            .advise("name the takes, in the order played, or with --list FILE a list of them and their tempos"),
    })?;
    let told = recognise(&args.inputs, &first.0, journal_at_hand(None, common).as_deref(), &())?;
    if let Some(said) = &told.said {
        output::remark(format_args!("{}: {said}", first.0.display()));
    }
    let drill = &told.drill;
    let bar = output::progress(takes.len() as u64, "scoring", common.quiet);
    let mut reports = Vec::with_capacity(takes.len());
    for (path, tempo) in &takes {
        let mut request = request(&args.inputs, path, drill)?;
        request.tempo = tempo.map(Bpm).or(request.tempo);
        reports.push(score(&request, &())?);
        if reports.len() == 1 {
            told.borne_out(&first.0, &reports[0])?;
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    give(args, &reports)
}

fn give(args: &LadderArgs, reports: &[ScoreReport]) -> Outcome {
    let report = takegauge_review::ladder(reports, args.inputs.seed).map_err(Fault::not_scored)?;
    write(args, &report)?;
    if args.json.as_deref().is_some_and(output::is_stdout) {
        return Ok(());
    }
    output::print(&ladder_text(&report, text_style()))
}

fn write(args: &LadderArgs, report: &LadderReport) -> Outcome {
    if let Some(path) = &args.json {
        output::write(path, json(report).as_bytes())?;
    }
    if let Some(path) = &args.csv {
        output::write(path, ladder_csv(report).as_bytes())?;
    }
    if let Some(path) = &args.html {
        output::write(path, ladder_html(report).as_bytes())?;
    }
    if let Some(path) = &args.plot {
        let format = Format::of(path).map_err(Fault::usage)?;
        output::write(path, &ladder_plot(report, Size::default(), format).map_err(Fault::not_scored)?)?;
    }
    Ok(())
}

/// A recording that counts twice makes a ladder surer than it is.
fn each_once(takes: &[(PathBuf, Option<f64>)]) -> Outcome {
    let mut seen = BTreeSet::new();
    match takes.iter().find(|(path, _)| !seen.insert(path.canonicalize().unwrap_or_else(|_| path.clone()))) {
        Some((path, _)) => Err(Fault::usage(format!("{} is named twice", path.display()))
            .advise("a ladder takes each recording once; name the takes of all tempos")),
        None => Ok(()),
    }
}

/// The takes in the order played, each with the tempo that a list gives it.
fn takes(args: &LadderArgs) -> Outcome<Vec<(PathBuf, Option<f64>)>> {
    let Some(list) = &args.list else {
        return Ok(args.takes.iter().map(|t| (t.clone(), None)).collect());
    };
    let text = std::fs::read_to_string(list).map_err(|e| Fault::unread(list, &e))?;
    let read: List = toml::from_str(&text).map_err(|e| {
        Fault::usage(format!("{}: {e}", list.display()))
            .advise("a list has [[take]] path = \"...\" and, if wanted, tempo_bpm")
    })?;
    let folder = list.parent().unwrap_or(Path::new(""));
    Ok(read.take.into_iter().map(|t| (folder.join(t.path), t.tempo_bpm)).collect())
}
