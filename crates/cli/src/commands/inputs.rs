//! What the commands that score have in common: the drill, the channel, the request.

use crate::args::{AfterSlipArg, ScoreArgs, ScoreInputs, StrokeArg};
use crate::fault::{Fault, Outcome};
use std::path::Path;
use takegauge_audio::ChannelChoice;
use takegauge_drill::{Drill, Stroke};
use takegauge_review::AfterSlip;
use takegauge_take::{Click, Request};
use takegauge_units::{Bpm, Seconds};

/// Reads `--channel`.
pub(crate) fn channel(text: &str) -> Outcome<ChannelChoice> {
    text.parse().map_err(|e| Fault::usage(format!("--channel: {e}")))
}

/// What the options say about scoring, whatever the command.
pub(crate) fn request<'a>(inputs: &ScoreInputs, take: &'a Path, drill: &'a Drill) -> Outcome<Request<'a>> {
    if let Some(bpm) = inputs.tempo
        && !(bpm.is_finite() && (20.0..=400.0).contains(&bpm))
    {
        return Err(Fault::usage(format!("--tempo {bpm}: a tempo is 20 to 400 quarter notes a minute")));
    }
    Ok(Request {
        channel: channel(&inputs.channel)?,
        tempo: inputs.tempo.map(Bpm),
        after_slip: match inputs.after_slip {
            AfterSlipArg::Keep => AfterSlip::Keep,
            AfterSlipArg::Drop => AfterSlip::Drop,
        },
        seed: inputs.seed,
        ..Request::new(take, drill)
    })
}

/// The drill that `--drill` names, a file or a built-in one; without it, a drill.toml beside the take.
pub(crate) fn drill_for(inputs: &ScoreInputs, take: &Path) -> Outcome<Drill> {
    let drill = match &inputs.drill {
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
    Ok(restart(drill, inputs.first_stroke))
}

/// The drill begun on another stroke, where one is given.
pub(crate) fn restart(mut drill: Drill, first_stroke: Option<StrokeArg>) -> Drill {
    match first_stroke {
        Some(StrokeArg::Up) => drill.first_stroke = Stroke::Up,
        Some(StrokeArg::Down) => drill.first_stroke = Stroke::Down,
        None => {}
    }
    drill
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

/// Where the click is, as the options say.
pub(crate) fn click(args: &ScoreArgs) -> Outcome<Click> {
    if let Some(s) = args.click_start {
        if !s.is_finite() || s < 0.0 {
            return Err(Fault::usage(format!(
                "--click-start {s}: give the time of the first beat in seconds from the file's start"
            )));
        }
        return Ok(Click::Start(Seconds(s)));
    }
    if let Some(c) = &args.click_channel {
        return Ok(Click::Channel(channel(c)?));
    }
    Ok(args.click_file.clone().map_or(Click::None, Click::File))
}
