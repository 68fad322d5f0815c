//! `takegauge score`: a take and its drill in, a report out.

use crate::args::{Common, ScoreArgs, ScoreInputs, StrokeArg};
use crate::commands::journal::{Keeper, keep};
use crate::commands::markers::{self, Kind};
use crate::commands::steps;
use crate::config::Config;
use crate::delays::delay;
use crate::fault::{Fault, Outcome};
use crate::output;
use crate::pipeline::{self, Click, Request};
use std::path::{Path, PathBuf};
use takegauge_audio::{ChannelChoice, EmbeddedSound, embed, read_all};
use takegauge_drill::{Drill, Stroke};
use takegauge_report::{
    Format, PlotError, Size, Sound, Style, changes_csv, changes_plot, json, notes_csv, score_html, score_text,
    take_plot,
};
use takegauge_review::ScoreReport;
use takegauge_units::{Bpm, Seconds};

pub(crate) fn run(args: &ScoreArgs, common: &Common) -> Outcome {
    if let Some(table) = &args.ladder_file {
        return steps::run(args, table, common);
    }
    if args.csv.as_deref().is_some_and(output::is_stdout) {
        return Err(Fault::usage("--csv -: two tables are written, so give the start of their names"));
    }
    let drill = drill_for(&args.inputs, &args.take)?;
    let mut request = request(&args.inputs, &args.take, &drill)?;
    request.click = click(args)?;
    request.channel = beside_the_click(request.channel, &request.click);
    request.delay = args.delay.as_deref().map(|d| delay(d, args.delay_file.as_deref())).transpose()?;
    let markers = args.markers.as_deref().map(|path| Ok((path, Kind::of(path, &args.take)?))).transpose()?;
    request.waveform = args.html.is_some() || args.plot.is_some();
    // Opened first: what is wrong with the journal is said before the work, not after it.
    let keeper = if args.journal || args.journal_file.is_some() { Some(keeper(args, common)?) } else { None };
    let bar = output::progress(0, "listening", common.quiet);
    let report = pipeline::score(&request, &bar)?;
    bar.finish_and_clear();
    for w in report.warnings.iter().filter(|_| !common.quiet) {
        eprintln!("takegauge: {w}");
    }
    if let Some(mut keeper) = keeper {
        eprint!("takegauge: {}", keep(&mut keeper, &args.take, &drill, &report)?);
    }
    if let Some((path, kind)) = markers {
        markers::write(path, kind, &args.take, request.channel, &report)?;
    }
    write_all(args, &report, request.channel, common)
}

/// With a click on one side of a stereo take the playing is on the other, unless another channel was named.
fn beside_the_click(channel: ChannelChoice, click: &Click) -> ChannelChoice {
    match (channel, click) {
        (ChannelChoice::Auto, Click::Channel(ChannelChoice::Left | ChannelChoice::Number(1))) => ChannelChoice::Right,
        (ChannelChoice::Auto, Click::Channel(_)) => ChannelChoice::Left,
        _ => channel,
    }
}

fn keeper(args: &ScoreArgs, common: &Common) -> Outcome<Keeper> {
    let config = Config::read(common)?;
    let path = config.journal(args.journal_file.as_deref())?;
    Keeper::open(&path, args.inputs.player.as_deref(), args.picked, &config, common)
}

/// What the options say about scoring, whatever the command.
pub(crate) fn request<'a>(inputs: &ScoreInputs, take: &'a Path, drill: &'a Drill) -> Outcome<Request<'a>> {
    if let Some(bpm) = inputs.tempo
        && !(bpm.is_finite() && (20.0..=400.0).contains(&bpm))
    {
        return Err(Fault::usage(format!("--tempo {bpm}: a tempo is 20 to 400 quarter notes a minute")));
    }
    Ok(Request {
        take,
        name: None,
        drill,
        channel: pipeline::channel(&inputs.channel)?,
        tempo: inputs.tempo.map(Bpm),
        click: Click::None,
        delay: None,
        seed: inputs.seed,
        waveform: false,
    })
}

/// The drill that `--drill` names, a file or a built-in one; without it, a drill.toml beside the take.
pub(crate) fn drill_for(inputs: &ScoreInputs, take: &Path) -> Outcome<Drill> {
    let mut drill = match &inputs.drill {
        Some(named) => open_drill(named)?,
        None => {
            let beside = take.with_file_name("drill.toml");
            if !beside.is_file() {
                return Err(Fault::usage("which drill was played?")
                    .advise("name it with --drill (a file, or one of `takegauge drill list`), or put a drill.toml beside the take"));
            }
            open_drill(&beside)?
        }
    };
    match inputs.first_stroke {
        Some(StrokeArg::Up) => drill.first_stroke = Stroke::Up,
        Some(StrokeArg::Down) => drill.first_stroke = Stroke::Down,
        None => {}
    }
    Ok(drill)
}

/// A drill by file name, or by the name of a built-in one where there is no such file.
pub(crate) fn open_drill(named: &Path) -> Outcome<Drill> {
    if !named.exists()
        && let Some(drill) = named.to_str().and_then(takegauge_drill::named)
    {
        return Ok(drill);
    }
    if !named.exists() {
        let name = named.display();
        return Err(Fault::usage(format!("{name}: no such drill file, and no built-in drill of that name"))
            .advise(format!("{}`takegauge drill list` names the built-in drills", nearest(&name.to_string()))));
    }
    Drill::read(named).map_err(Fault::usage)
}

/// A built-in drill with almost that name, as the start of an advice.
fn nearest(name: &str) -> String {
    /// A few slips of the keys; less alike is another word.
    const ALIKE: f64 = 0.75;
    let wanted = name.trim().to_lowercase().replace([' ', '_'], "-");
    let like = takegauge_drill::built_in().map(|b| (strsim::normalized_damerau_levenshtein(&wanted, b.name), b.name));
    match like.max_by(|a, b| a.0.total_cmp(&b.0)) {
        Some((alike, name)) if alike >= ALIKE => format!("{name} is one; "),
        _ => String::new(),
    }
}

fn click(args: &ScoreArgs) -> Outcome<Click> {
    if let Some(s) = args.click_start {
        if !s.is_finite() || s < 0.0 {
            return Err(Fault::usage(format!(
                "--click-start {s}: give the time of the first beat in seconds from the file's start"
            )));
        }
        return Ok(Click::Start(Seconds(s)));
    }
    if let Some(c) = &args.click_channel {
        return Ok(Click::Channel(pipeline::channel(c)?));
    }
    Ok(args.click_file.clone().map_or(Click::None, Click::File))
}

fn write_all(args: &ScoreArgs, report: &ScoreReport, channel: ChannelChoice, common: &Common) -> Outcome {
    if let Some(path) = &args.json {
        output::write(path, json(report).as_bytes())?;
    }
    if let Some(stem) = &args.csv {
        output::write(&with_suffix(stem, "-notes.csv"), notes_csv(report).as_bytes())?;
        output::write(&with_suffix(stem, "-changes.csv"), changes_csv(report).as_bytes())?;
    }
    if let Some(path) = &args.html {
        let sound = if args.with_audio { Some(sound(&args.take, channel)?) } else { None };
        let sound = sound.as_ref().map(|s| Sound { bytes: &s.bytes, media_type: s.media_type });
        output::write(path, score_html(report, sound).as_bytes())?;
    }
    if let Some(path) = &args.plot {
        plots(args, path, report)?;
    }
    if args.json.as_deref().is_some_and(output::is_stdout) {
        return Ok(());
    }
    output::print(&score_text(report, Style { every_group: common.verbose, ..text_style() }))
}

/// The take as it was listened to, as a sound file for the report.
pub(crate) fn sound(take: &Path, channel: ChannelChoice) -> Outcome<EmbeddedSound> {
    let (samples, summary) = read_all(take, channel).map_err(pipeline::unreadable)?;
    embed(&samples, summary.info.sample_rate_hz).map_err(pipeline::unreadable)
}

/// How text is set on this terminal.
pub(crate) fn text_style() -> Style {
    Style { width: output::width(), bold: output::colour(), every_group: false }
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
            Err(e @ PlotError::Nothing(_)) => eprintln!("takegauge: {e}"),
            Err(e) => return Err(Fault::usage(e)),
        }
    }
    Ok(())
}

pub(crate) fn with_suffix(stem: &Path, suffix: &str) -> PathBuf {
    let mut name = stem.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}
