//! `score --ladder-file`: one long recording to a rising click, scored step by step.

use crate::args::{Common, ScoreArgs};
use crate::commands::inputs::{click, drill_for, request};
use crate::commands::journal::{Keeper, keep_step};
use crate::fault::{Fault, Outcome};
use crate::output::{self, TakeBar, text_style, with_suffix};
use std::path::Path;
use takegauge_click::{ClickStep, read_ladder_table};
use takegauge_report::{Format, Size, json, ladder_csv, ladder_html, ladder_plot, ladder_text};
use takegauge_review::LadderReport;
use takegauge_take::score_steps;

pub(crate) fn run(args: &ScoreArgs, table: &Path, common: &Common, keeper: Option<Keeper>) -> Outcome {
    let drill = drill_for(&args.inputs, &args.take)?;
    let steps = read(table)?;
    let mut request = request(&args.inputs, &args.take, &drill)?;
    request.click = click(args)?;
    let bar = TakeBar::new(common.quiet);
    let scored = score_steps(&request, &steps, &bar)?;
    bar.finish();
    if let Some(began) = scored.began.filter(|_| !common.quiet) {
        let (at, fits, notes) = (began.at.0, began.fits, began.notes);
        tell!(
            "takegauge: the click track began at {at:.2} s of the take: {fits} of {notes} notes fall near their places there"
        );
    }
    for step in &scored.left_out {
        tell!("takegauge: step {} at {} bpm is left out: {}", step.step + 1, step.tempo.0, step.why);
    }
    if let Some(mut keeper) = keeper {
        for step in &scored.scored {
            output::remark(keep_step(&mut keeper, &args.take, step)?);
        }
    }
    if scored.scored.len() < 2 {
        let (n, of) = (scored.scored.len(), steps.len());
        return Err(Fault::not_scored(format!("{n} of {of} steps could be scored: no ladder")));
    }
    let reports: Vec<_> = scored.scored.into_iter().map(|s| s.report).collect();
    give(args, &takegauge_review::ladder(&reports, args.inputs.seed).map_err(Fault::not_scored)?)
}

fn read(table: &Path) -> Outcome<Vec<ClickStep>> {
    let text = std::fs::read_to_string(table).map_err(|e| Fault::unread(table, &e))?;
    let steps = read_ladder_table(&text, &table.display().to_string())
        .map_err(|e| Fault::usage(e).advise("`takegauge click DRILL --tempo 100,110,... --table FILE` writes it"))?;
    if steps.len() < 2 {
        return Err(Fault::usage(format!("{}: a ladder has two steps or more", table.display())));
    }
    Ok(steps)
}

fn give(args: &ScoreArgs, report: &LadderReport) -> Outcome {
    if let Some(path) = &args.json {
        output::write(path, json(report).as_bytes())?;
    }
    if let Some(stem) = &args.csv {
        output::write(&with_suffix(stem, "-ladder.csv"), ladder_csv(report).as_bytes())?;
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
