//! What the commands that score have in common: the drill, the channel, the request.

use crate::args::{AfterSlipArg, ScoreArgs, ScoreInputs, StrokeArg};
use crate::fault::{Fault, Outcome};
use std::path::Path;
use takegauge_audio::ChannelChoice;
use takegauge_drill::{Drill, DrillError, Stroke};
use takegauge_review::AfterSlip;
use takegauge_take::{Click, Request};
use takegauge_units::Bpm;

/// Reads `--channel`.
pub(crate) fn channel(text: &str) -> Outcome<ChannelChoice> {
    text.parse().map_err(|e| Fault::usage(format!("--channel: {e}")))
}

/// What the options say, whatever the take.
///
/// # Errors
/// A channel or tempo that no take has: told once, and not take by take.
pub(crate) fn allowed(inputs: &ScoreInputs) -> Outcome<(ChannelChoice, Option<Bpm>)> {
    let tempo = inputs.tempo.map(takegauge_take::tempo).transpose();
    Ok((channel(&inputs.channel)?, tempo.map_err(|e| Fault::usage(format!("--tempo {e}")))?))
}

/// What the options say about scoring, whatever the command.
pub(crate) fn request<'a>(inputs: &ScoreInputs, take: &'a Path, drill: &'a Drill) -> Outcome<Request<'a>> {
    let (channel, tempo) = allowed(inputs)?;
    Ok(Request {
        channel,
        tempo,
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
    Drill::open(named).map_err(|e| {
        let advice = match &e {
            DrillError::Unknown { like: Some(name), .. } => Some(format!("{name} is one; ")),
            DrillError::Unknown { like: None, .. } => Some(String::new()),
            _ => None,
        };
        let fault = Fault::usage(e);
        match advice {
            Some(like) => fault.advise(format!("{like}`takegauge drill list` names the built-in drills")),
            None => fault,
        }
    })
}

/// Where the click is, as the options say.
pub(crate) fn click(args: &ScoreArgs) -> Outcome<Click> {
    if let Some(s) = args.click_start {
        return takegauge_take::click_start(s).map_err(|e| Fault::usage(format!("--click-start {e}")));
    }
    if let Some(c) = &args.click_channel {
        return Ok(Click::Channel(channel(c)?));
    }
    Ok(args.click_file.clone().map_or(Click::None, Click::File))
}
