//! `takegauge drill make` and `alter`.

use super::give::{give, renamed};
use crate::args::{AlterArgs, Common, DirectionArg, KindArg, MakeArgs, PickingArg, StrokeArg};
use crate::commands::inputs::open_drill;
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use takegauge_drill::make::{Aim, Direction, MakeOptions, Scale};
use takegauge_drill::{ChangeKind, Picking, Stroke, Tuning, alter};
use takegauge_units::Bpm;

impl From<StrokeArg> for Stroke {
    fn from(s: StrokeArg) -> Self {
        match s {
            StrokeArg::Down => Self::Down,
            StrokeArg::Up => Self::Up,
        }
    }
}

/// `3-2`, `3>2`.
fn pair(option: &str, text: &str) -> Outcome<(u8, u8)> {
    let parts = text.split_once(['-', '>']);
    parts
        .and_then(|(a, b)| Some((a.trim().parse().ok()?, b.trim().parse().ok()?)))
        .ok_or_else(|| Fault::usage(format!("{option} {text}: give two strings, as 3-2")))
}

/// The tuning of `--tuning`, by name or by pitches; else the settings', if they name one.
pub(super) fn tuning(option: Option<&str>, common: &Common) -> Outcome<Option<Tuning>> {
    let Some(text) = option else { return Ok(Config::read(common)?.tuning) };
    let read =
        Tuning::parse(text).map_err(|e| Fault::usage(format!("--tuning {text}: {e}")).advise(Tuning::allowed()))?;
    Ok(Some(read))
}

/// The first and the last string.
type Strings = (u8, u8);

/// The strings of a roll and of the line: `--roll 4`, `--roll 4-1`, and `--strings 4-1` with either.
fn roll_and_strings(args: &MakeArgs) -> Outcome<(Option<u8>, Option<Strings>)> {
    let strings = args.strings.as_deref().map(|t| pair("--strings", t)).transpose()?;
    let Some(text) = args.roll.as_deref() else { return Ok((None, strings)) };
    if let Ok(n) = text.trim().parse() {
        return Ok((Some(n), strings));
    }
    let (a, b) = pair("--roll", text)
        .map_err(|_| Fault::usage(format!("--roll {text}: give how many strings, as 4, or which, as 4-1")))?;
    match strings {
        Some(other) if other != (a, b) => {
            Err(Fault::usage(format!("--roll {text} and --strings {}-{} name different strings", other.0, other.1))
                .advise("leave --strings out, or give --roll the number of strings"))
        }
        _ => Ok((Some(a.abs_diff(b).saturating_add(1)), Some((a, b)))),
    }
}

pub(super) fn make(args: &MakeArgs, common: &Common) -> Outcome {
    let scale = Scale::parse(&args.scale).ok_or_else(|| {
        Fault::usage(format!("{:?} is no scale or chord that is known", args.scale)).advise(Scale::known())
    })?;
    let aim = match (&args.only, &args.leaves_on, &args.change) {
        (Some(kind), _, _) => Some(Aim::Only(match kind {
            KindArg::Outside => ChangeKind::Outside,
            KindArg::Inside => ChangeKind::Inside,
            KindArg::Sweep => ChangeKind::Sweep,
            KindArg::SameStroke => ChangeKind::SameStroke,
        })),
        (_, Some(stroke), _) => Some(Aim::LeavesOn((*stroke).into())),
        (_, _, Some(text)) => pair("--change", text).map(|(from, to)| Some(Aim::Change { from, to }))?,
        _ => None,
    };
    let (roll, strings) = roll_and_strings(args)?;
    let defaults = MakeOptions::new(scale);
    let options = MakeOptions {
        position: args.position,
        notes_a_string: args.notes.clone(),
        strings,
        direction: match args.direction {
            DirectionArg::Ascending => Direction::Ascending,
            DirectionArg::Descending => Direction::Descending,
            DirectionArg::Both => Direction::Both,
        },
        sequence: args.sequence,
        skip: args.skip,
        roll,
        aim,
        span: args.span,
        tuning: tuning(args.tuning.as_deref(), common)?.unwrap_or_else(|| defaults.tuning.clone()),
        tempo: Bpm(args.tempo),
        steps_per_beat: args.steps_per_beat,
        repeats: args.repeats,
        picking: match args.picking {
            PickingArg::Alternate => Picking::Alternate,
            PickingArg::Economy => Picking::Economy,
            PickingArg::Down => Picking::Down,
            PickingArg::Written => Picking::Written,
        },
        first_stroke: args.first_stroke.into(),
        ..defaults
    };
    let made = takegauge_drill::make::make(&options).map_err(Fault::usage)?;
    give(&made.drill, &made.remarks, &args.out)
}

pub(super) fn alter(args: &AlterArgs) -> Outcome {
    let drill = open_drill(&args.drill)?;
    let altered = if let Some(stroke) = args.start {
        alter::start_on(&drill, stroke.into())
    } else if args.mirror {
        alter::mirror(&drill)
    } else if let Some(by) = args.transpose {
        alter::transpose(&drill, by)
    } else if let Some(by) = args.shift_strings {
        alter::shift_strings(&drill, by)
    } else if let Some(text) = &args.take_out {
        let (from, to) = pair("--take-out", text)?;
        alter::take_out(&drill, from, to)
    } else {
        Ok(drill)
    };
    let altered = renamed(altered.map_err(Fault::usage)?, args.name.as_deref(), args.tempo, args.repeats)?;
    give(&altered, &[], &args.out)
}
