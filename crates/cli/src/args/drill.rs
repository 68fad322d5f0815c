//! Arguments of the commands about drills.

use clap::{Args, Subcommand, ValueEnum, ValueHint};
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
    /// Tempo instead of the drill's, quarter notes a minute; several, separated by commas, follow each other in one file
    #[arg(long, value_name = "BPM,BPM,...", value_delimiter = ',')]
    pub(crate) tempo: Vec<f64>,
    /// Repeats of the line at each tempo instead of the drill's
    #[arg(long, value_name = "N")]
    pub(crate) repeats: Option<u32>,
    /// Bars counted in before the first note
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) count_in: u8,
    /// Clicks a beat
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) per_beat: u8,
    /// The click sounds for so many bars, then drops out for so many, in turn
    #[arg(long, value_name = "BARS:BARS")]
    pub(crate) silent: Option<String>,
    /// Bars of rest between two tempos
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) rest_bars: u8,
    /// Write where each tempo starts, for `score --ladder-file`
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) table: Option<PathBuf>,
    /// Samples a second
    #[arg(long, value_name = "HZ", default_value_t = 44_100)]
    pub(crate) rate: u32,
    /// Bits a sample
    #[arg(long, value_name = "BITS", default_value = "16")]
    pub(crate) bits: BitsArg,
}

/// 16 or 24
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum BitsArg {
    #[value(name = "16")]
    B16,
    #[value(name = "24")]
    B24,
}
