//! `takegauge drill import` and `export`.

use super::give::{give, renamed};
use super::make::tuning;
use crate::args::{Common, DrillExportArgs, DrillImportArgs};
use crate::commands::inputs::open_drill;
use crate::fault::{Fault, Outcome};
use crate::output;
use takegauge_exchange::export::{self, Format};
use takegauge_exchange::import::{self, Options};
use takegauge_units::Bpm;

pub(super) fn import(args: &DrillImportArgs, common: &Common) -> Outcome {
    let bars = match &args.bars {
        None => None,
        Some(text) => {
            let parts = text.split_once('-').and_then(|(a, b)| Some((a.trim().parse().ok()?, b.trim().parse().ok()?)));
            Some(parts.ok_or_else(|| Fault::usage(format!("--bars {text}: give the first and the last bar, as 5-8")))?)
        }
    };
    let options = Options {
        part: args.part,
        bars,
        voice: args.voice.clone(),
        tuning: tuning(args.tuning.as_deref(), common)?,
        tempo: args.tempo.map(Bpm),
        even: args.even,
    };
    let imported = import::read(&args.file, &options).map_err(Fault::usage)?;
    let drill = renamed(imported.drill, args.name.as_deref(), args.tempo, args.repeats)?;
    give(&drill, &imported.losses, &args.out)
}

pub(super) fn export(args: &DrillExportArgs) -> Outcome {
    let drill = open_drill(&args.drill)?;
    let format = Format::of_name(&args.out.to_string_lossy()).ok_or_else(|| {
        Fault::usage(format!(
            "--out {}: the ending chooses the format: .musicxml, .mid, .txt or .toml",
            args.out.display()
        ))
    })?;
    output::keep_what_is_there(&args.out)?;
    let exported = export::write(&drill, format);
    for loss in &exported.losses {
        output::remark(loss);
    }
    output::write(&args.out, &exported.bytes)
}
