//! `takegauge score`: a take and its drill in, a report out.

use crate::args::{Common, ScoreArgs};
use crate::commands::beside::{Beside, html};
use crate::commands::film::film_beside;
use crate::commands::inputs::{channel, click, request};
use crate::commands::journal::{Keeper, keep};
use crate::commands::steps;
use crate::commands::which::{journal_at_hand, recognise};
use crate::config::Config;
use crate::delays::delay;
use crate::fault::{Fault, Outcome};
use crate::output::{self, TakeBar, text_style, with_suffix};
use std::path::Path;
use takegauge_audio::EmbeddedSound;
use takegauge_journal::RecordedAt;
use takegauge_report::{
    Format, PlotError, Size, Style, changes_csv, changes_plot, json, notes_csv, score_brief, score_text, student_html,
    take_plot,
};
use takegauge_review::ScoreReport;

pub(crate) fn run(args: &ScoreArgs, common: &Common) -> Outcome {
    // Opened first: what is wrong with the journal is said before the work, not after it.
    let keeper = if args.journal || args.journal_file.is_some() { Some(keeper(args, common)?) } else { None };
    if let Some(table) = &args.ladder_file {
        return steps::run(args, table, common, keeper);
    }
    if args.csv.as_deref().is_some_and(output::is_stdout) {
        return Err(Fault::usage("--csv -: two tables are written, so give the start of their names"));
    }
    // A film of another playing is said before the work.
    let film = args.camera.as_deref();
    let camera =
        film.map(|film| film_beside(&args.take, channel(&args.inputs.channel)?, film, common.quiet)).transpose()?;
    let bar = TakeBar::new(common.quiet);
    let known = journal_at_hand(args.journal_file.as_deref(), common);
    let told = recognise(&args.inputs, &args.take, known.as_deref(), &bar)?;
    if let Some(said) = &told.said {
        output::remark(said);
    }
    let mut request = request(&args.inputs, &args.take, &told.drill)?;
    request.click = click(args)?;
    request.delay = args.delay.as_deref().map(|d| delay(d, args.delay_file.as_deref())).transpose()?;
    let mut beside = Beside::new(args.markers.as_deref(), args.with_audio, &args.take)?;
    request.waveform = args.html.is_some() || args.plot.is_some();
    let mut report = told.score(&request, &bar, &mut beside)?;
    told.borne_out(&args.take, &report)?;
    bar.finish();
    report.camera = camera;
    for w in &report.warnings {
        output::remark(w);
    }
    if let Some(mut keeper) = keeper {
        output::remark(keep(&mut keeper, &args.take, &told.drill, &report)?.1);
    }
    let sound = beside.finish(&report)?;
    write_all(args, &report, sound, common)
}

fn keeper(args: &ScoreArgs, common: &Common) -> Outcome<Keeper> {
    let config = Config::read(common)?;
    let path = config.journal(args.journal_file.as_deref())?;
    Keeper::open(&path, args.inputs.player.as_deref(), args.picked, &config, common)
}

fn write_all(args: &ScoreArgs, report: &ScoreReport, sound: Option<EmbeddedSound>, common: &Common) -> Outcome {
    if let Some(path) = &args.json {
        output::write(path, json(report).as_bytes())?;
    }
    if let Some(stem) = &args.csv {
        output::write(&with_suffix(stem, "-notes.csv"), notes_csv(report).as_bytes())?;
        output::write(&with_suffix(stem, "-changes.csv"), changes_csv(report).as_bytes())?;
    }
    if let Some(path) = &args.html {
        html(path, report, sound)?;
    }
    if let Some(path) = &args.student_page {
        let day = std::fs::metadata(&args.take).and_then(|m| m.modified()).ok().and_then(RecordedAt::of_file);
        let day = day.map(|at| at.day().to_string());
        let player = Config::read(common)?.player;
        let player = args.inputs.player.as_deref().or(player.as_deref());
        output::write(path, student_html(report, player, day.as_deref()).as_bytes())?;
    }
    if let Some(path) = &args.plot {
        plots(args, path, report)?;
    }
    if args.json.as_deref().is_some_and(output::is_stdout) {
        return Ok(());
    }
    if args.brief {
        return output::print(&score_brief(report));
    }
    output::print(&score_text(report, Style { every_group: common.verbose, ..text_style() }))
}

/// The plots STEM-take and STEM-changes; a plot that has nothing to show is said, not written.
fn plots(args: &ScoreArgs, path: &Path, report: &ScoreReport) -> Outcome {
    let format = Format::of(path).map_err(Fault::usage)?;
    let size = args.plot_size.unwrap_or_default();
    let ending = if format == Format::Svg { "svg" } else { "png" };
    let stem = path.with_extension("");
    type Plot = fn(&ScoreReport, Size, Format) -> Result<Vec<u8>, PlotError>;
    for (suffix, plot) in [("take", take_plot as Plot), ("changes", changes_plot as Plot)] {
        match plot(report, size, format) {
            Ok(bytes) => output::write(&with_suffix(&stem, &format!("-{suffix}.{ending}")), &bytes)?,
            Err(e @ PlotError::Nothing(_)) => output::remark(e),
            Err(e) => return Err(Fault::usage(e)),
        }
    }
    Ok(())
}
