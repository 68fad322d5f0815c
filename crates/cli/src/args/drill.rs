//! Arguments of the commands about drills.

use clap::{Args, Subcommand, ValueHint};
use std::path::PathBuf;

/// `takegauge drill ...`
#[derive(Debug, Subcommand)]
pub(crate) enum DrillCommand {
    /// Say what is wrong or doubtful in a drill
    Check {
        /// Drill file, or the name of a built-in drill
        #[arg(value_name = "DRILL", value_hint = ValueHint::FilePath)]
        drill: PathBuf,
    },
    /// Show a drill's line: strings, frets, strokes, string changes, and where the leaving stroke flips
    Show {
        /// Drill file, or the name of a built-in drill
        #[arg(value_name = "DRILL", value_hint = ValueHint::FilePath)]
        drill: PathBuf,
        /// Print the drill file itself
        #[arg(long)]
        toml: bool,
    },
    /// List the built-in drills and what each isolates
    List,
}

/// `takegauge click`
#[derive(Debug, Args)]
pub(crate) struct ClickArgs {
    /// Drill file, or the name of a built-in drill
    #[arg(value_name = "DRILL", value_hint = ValueHint::FilePath)]
    pub(crate) drill: PathBuf,
    /// Where to write the click, .wav or .mid
    #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) out: PathBuf,
    /// Tempo instead of the drill's, quarter notes a minute
    #[arg(long, value_name = "BPM")]
    pub(crate) tempo: Option<f64>,
}
