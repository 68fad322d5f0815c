//! Where a drill that was made goes.

use crate::args::OutArg;
use crate::fault::Outcome;
use crate::output;
use takegauge_drill::Drill;

/// Writes a drill to where `-o` says or prints it; remarks go to standard error.
pub(super) fn give(drill: &Drill, remarks: &[String], out: &OutArg) -> Outcome {
    for r in remarks {
        eprintln!("takegauge: {r}");
    }
    match &out.out {
        Some(path) => {
            output::keep_what_is_there(path)?;
            output::write(path, drill.to_toml().as_bytes())
        }
        None => output::exactly(drill.to_toml().as_bytes()),
    }
}
