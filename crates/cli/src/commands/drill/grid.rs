//! `drill show --json`: what a drill asks for, note by note.

use crate::commands::inputs::open_drill;
use crate::fault::Outcome;
use crate::output;
use std::path::Path;
use takegauge_report::{DrillReport, json};

pub(super) fn print(named: &Path) -> Outcome {
    output::exactly(json(&DrillReport::from(&open_drill(named)?)).as_bytes())
}
