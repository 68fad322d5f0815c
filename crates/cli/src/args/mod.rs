//! The command line, as types. Help texts are written to be read.

mod drill;
mod journal;
mod score;
pub(crate) mod values;

pub(crate) use drill::{
    AlterArgs, BitsArg, ClickArgs, DirectionArg, DrillCommand, DrillExportArgs, DrillImportArgs, KindArg, MakeArgs,
    OutArg, PickingArg,
};
pub(crate) use journal::{
    AddArgs, CompareArgs, DeleteArgs, DoneArgs, ExportArgs, ExportFormat, FilterArgs, JournalArgs, JournalCommand,
    KeepArgs, ListArgs, MendArgs, PlanArgs, PlayerArgs, ShowArgs, TaskCommand, TaskNumbers, TaskSetArgs, TrendArgs,
};
pub(crate) use score::{
    AfterSlipArg, BatchArgs, LadderArgs, PickedArg, ScoreArgs, ScoreInputs, SessionArgs, StrokeArg, TakeInput,
    WatchArgs,
};

use clap::{Args, Parser, Subcommand, ValueHint};
use std::path::PathBuf;

/// Says with proof how a plectrum drill was played, from the plain recording.
///
/// Start with `takegauge demo`. Then: write or choose a drill (`takegauge drill list`), record it in your DAW to a
/// click (`takegauge click`), bounce the take to a file and run `takegauge score TAKE --drill DRILL`.
#[derive(Debug, Parser)]
#[command(name = "takegauge", version, max_term_width = 100, subcommand_required = true, arg_required_else_help = true)]
pub(crate) struct Cli {
    #[command(flatten)]
    pub(crate) common: Common,
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// Where help lists what every command takes, so that it does not stand among a command's own options.
const EVERYWHERE: &str = "In every command";

/// Options that every command takes.
#[derive(Debug, Clone, Args)]
pub(crate) struct Common {
    /// Say less: no progress, no remarks beside the result
    #[arg(short, long, global = true, help_heading = EVERYWHERE)]
    pub(crate) quiet: bool,
    /// Say more: every group of notes in the report; on standard error, what was tried and chosen
    #[arg(short, long, global = true, conflicts_with = "quiet", help_heading = EVERYWHERE)]
    pub(crate) verbose: bool,
    /// Write over drill files, clicks and marked copies that are there already
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    pub(crate) replace: bool,
    /// Settings file (player, tuning, journal); the usual place is the system's configuration folder
    #[arg(long, global = true, value_name = "FILE", value_hint = ValueHint::FilePath, help_heading = EVERYWHERE)]
    pub(crate) config: Option<PathBuf>,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Play a built-in drill with known faults, score it and write the report: the place to start
    Demo(DemoArgs),
    /// Write, look at, make, change, bring in and take out drills
    #[command(subcommand)]
    Drill(DrillCommand),
    /// Write a count-in and click to record to, or measure the set-up's delay with one
    Click(ClickArgs),
    /// List the pick attacks of a take; no drill is needed
    ///
    /// Soft sounds that stand apart and do not ring on (a tap on the guitar, a choked string, a click that bled into the
    /// microphone) are left out, unless more than a fifth of the attacks are like that. `score` knows which notes to
    /// expect and finds softer ones than this can.
    Onsets(OnsetsArgs),
    /// Score a take against its drill
    Score(Box<ScoreArgs>),
    /// One drill at rising tempos: from which tempo on each kind of string change comes apart
    Ladder(LadderArgs),
    /// Several takes in the order played: what a rest brings back
    Session(SessionArgs),
    /// The practice history: takes over weeks, trends, comparisons, what to practise next
    Journal(JournalArgs),
    /// Score each file that a DAW bounces to a folder, once it is complete
    Watch(WatchArgs),
    /// Score many takes, one JSON line each, on all cores
    Batch(BatchArgs),
    /// Record takes in a browser on this machine, and see the journal and every report
    Page(PageArgs),
    /// Show what is set, and where from
    Config,
    /// Print a shell completion script
    Completions {
        /// For which shell
        shell: clap_complete::Shell,
    },
    /// Show the manual page of the program, or of one of its commands; piped, the page's source (roff)
    Manual(ManualArgs),
}

/// `takegauge demo`
#[derive(Debug, Args)]
pub(crate) struct DemoArgs {
    /// Where to write take.wav, drill.toml, score.json and report.html
    #[arg(short, long, default_value = "demo", value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub(crate) out: PathBuf,
    /// Another seed plays the same faults with other small variations
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
}

/// `takegauge manual`
#[derive(Debug, Args)]
pub(crate) struct ManualArgs {
    /// Of which command, as `score` or `drill make`; else of the program
    #[arg(value_name = "COMMAND", conflicts_with = "folder")]
    pub(crate) command: Vec<String>,
    /// Write the pages of the program and of every command into a folder
    #[arg(long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub(crate) folder: Option<PathBuf>,
}

/// `takegauge onsets`
#[derive(Debug, Args)]
pub(crate) struct OnsetsArgs {
    #[command(flatten)]
    pub(crate) input: TakeInput,
    /// Write JSON to a file, or to standard output with -
    #[arg(long, value_name = "FILE")]
    pub(crate) json: Option<PathBuf>,
}

/// `takegauge page`
#[derive(Debug, Args)]
pub(crate) struct PageArgs {
    /// Port on 127.0.0.1; 0 takes a free one
    #[arg(long, default_value_t = 0)]
    pub(crate) port: u16,
    /// Open the page in the usual browser
    #[arg(long)]
    pub(crate) open: bool,
    /// The journal to show
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) journal_file: Option<PathBuf>,
    /// Where measured delays of set-ups are kept; the usual place is the system's data folder
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) delay_file: Option<PathBuf>,
    /// Largest recording that may be dropped on the page, or recorded in it, in MB
    #[arg(long, default_value_t = 512, value_parser = clap::value_parser!(u64).range(1..=16_384))]
    pub(crate) upload_limit_mb: u64,
}
