//! Where a drill that was made goes.

use crate::args::OutArg;
use crate::fault::{Fault, Outcome};
use crate::output;
use takegauge_drill::Drill;
use takegauge_units::Bpm;

/// The drill under another name, at another tempo, with other repeats where these are given.
pub(super) fn renamed(
    mut drill: Drill,
    name: Option<&str>,
    tempo: Option<f64>,
    repeats: Option<u32>,
) -> Outcome<Drill> {
    if name.is_none() && tempo.is_none() && repeats.is_none() {
        return Ok(drill);
    }
    if let Some(name) = name {
        drill.name = name.to_owned();
    }
    if let Some(bpm) = tempo {
        drill.tempo = Bpm(bpm);
    }
    if let Some(n) = repeats {
        drill.repeats = n;
    }
    // What a drill may say is told by its reader alone.
    Drill::parse(&drill.to_toml(), "the drill as asked for").map_err(Fault::usage)
}

/// Writes a drill to where `-o` says or prints it; remarks go to standard error.
pub(super) fn give(drill: &Drill, remarks: &[String], out: &OutArg) -> Outcome {
    for r in remarks {
        output::remark(r);
    }
    match &out.out {
        Some(path) => {
            output::keep_what_is_there(path)?;
            output::write(path, drill.to_toml().as_bytes())
        }
        None => output::exactly(drill.to_toml().as_bytes()),
    }
}
