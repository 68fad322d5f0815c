//! Arguments of the commands that read takes.

use super::values::{number, parquet_file, plot_file};
use clap::{ArgGroup, Args, ValueEnum, ValueHint};
use std::path::PathBuf;
use takegauge_report::Size;

/// A recording and which of its channels to listen to.
#[derive(Debug, Clone, Args)]
pub(crate) struct TakeInput {
    /// The recording: WAV, AIFF, FLAC, MP3, M4A (AAC, ALAC), Ogg (Vorbis, Opus), or a video's sound track (MP4, MOV, WebM, 3GP)
    #[arg(value_name = "TAKE", value_hint = ValueHint::FilePath)]
    pub(crate) take: PathBuf,
    /// left, right, a number from 1, mix, or auto: the mix, or the one channel that carries signal
    #[arg(long, value_name = "C", default_value = "auto")]
    pub(crate) channel: String,
}

/// What scoring needs beside the take.
#[derive(Debug, Clone, Args)]
pub(crate) struct ScoreInputs {
    /// Drill file, the name of a built-in drill, or a folder of drill files to tell the take's from; without it, a
    /// drill.toml beside the take, else the drill is told from the take: of those beside it, in the journal and built in
    #[arg(short, long, value_name = "DRILL", value_hint = ValueHint::FilePath)]
    pub(crate) drill: Option<PathBuf>,
    /// Tempo to seek first, quarter notes a minute; else a number in the file name, the drill's, then any
    #[arg(long, value_name = "BPM", value_parser = number, allow_negative_numbers = true)]
    pub(crate) tempo: Option<f64>,
    /// Re-label the drill's strokes: start on this one
    #[arg(long, value_name = "STROKE")]
    pub(crate) first_stroke: Option<StrokeArg>,
    /// Notes after a missed or extra one, up to the next gap or clean repeat: keep them in the groups that speak of
    /// strokes (the hand is taken to have kept moving), or drop them
    #[arg(long, value_name = "keep|drop", default_value = "keep", hide_possible_values = true)]
    pub(crate) after_slip: AfterSlipArg,
    /// left, right, a number from 1, mix, or auto: the mix, or the one channel that carries signal
    #[arg(long, value_name = "C", default_value = "auto")]
    pub(crate) channel: String,
    /// Whose playing it is
    #[arg(long, value_name = "NAME")]
    pub(crate) player: Option<String>,
    /// Seed of every random choice in the statistics
    #[arg(long, value_name = "N", default_value_t = 1, allow_negative_numbers = true)]
    pub(crate) seed: u64,
}

/// down or up
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum StrokeArg {
    Down,
    Up,
}

/// keep or drop
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum AfterSlipArg {
    Keep,
    Drop,
}

/// all or best
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum PickedArg {
    All,
    Best,
}

/// `takegauge score`
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("keeping").multiple(true))]
pub(crate) struct ScoreArgs {
    /// The recording: WAV, AIFF, FLAC, MP3, M4A (AAC, ALAC), Ogg (Vorbis, Opus), or a video's sound track (MP4, MOV, WebM, 3GP)
    #[arg(value_name = "TAKE", value_hint = ValueHint::FilePath)]
    pub(crate) take: PathBuf,
    #[command(flatten)]
    pub(crate) inputs: ScoreInputs,
    /// The take was played to a click whose drill starts S seconds into the file (click mode)
    #[arg(long, value_name = "S", group = "click", value_parser = number, allow_negative_numbers = true)]
    pub(crate) click_start: Option<f64>,
    /// The click is on another channel of the same file (click mode)
    #[arg(long, value_name = "C", group = "click")]
    pub(crate) click_channel: Option<String>,
    /// The click is in a file of its own that starts where the take starts (click mode)
    #[arg(long, value_name = "F", group = "click", value_hint = ValueHint::FilePath)]
    pub(crate) click_file: Option<PathBuf>,
    /// Recording device whose delay was measured by `click --loopback-check`, or the delay in ms (click mode)
    #[arg(long, value_name = "DEVICE|MS", requires = "click", allow_hyphen_values = true)]
    pub(crate) delay: Option<String>,
    /// Where measured delays are kept; the usual place is the system's data folder
    #[arg(long, value_name = "FILE", requires = "delay", value_hint = ValueHint::FilePath)]
    pub(crate) delay_file: Option<PathBuf>,
    /// One long recording to a rising click: score it step by step into a ladder. F is the table that
    /// `click --tempo 100,110,... --table F` wrote; where the click began is found, or given by --click-start
    #[arg(
        long,
        value_name = "F",
        value_hint = ValueHint::FilePath,
        conflicts_with_all = ["click_channel", "click_file", "delay", "markers", "with_audio", "plot_size", "brief", "student_page", "camera"]
    )]
    pub(crate) ladder_file: Option<PathBuf>,
    /// Three lines instead of the report: what was heard, how sure that is, what comes next
    #[arg(long, conflicts_with = "verbose")]
    pub(crate) brief: bool,
    /// Write the report as JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
    /// Write STEM-notes.csv and STEM-changes.csv
    #[arg(long, value_name = "STEM")]
    pub(crate) csv: Option<PathBuf>,
    /// Write the report as one HTML file that opens without a network
    #[arg(long, value_name = "F")]
    pub(crate) html: Option<PathBuf>,
    /// Write one page to print for a student: what was heard, the line as played, loops with tempos to tick off
    #[arg(long, value_name = "F")]
    pub(crate) student_page: Option<PathBuf>,
    /// A film of this take, made along with it: its sound is laid over the take's, and the report shows each note in it.
    /// The film stays where it is
    #[arg(long, value_name = "F", value_hint = ValueHint::FilePath)]
    pub(crate) camera: Option<PathBuf>,
    /// Put the take's sound into the HTML report, to hear each spot
    #[arg(long, requires = "html")]
    pub(crate) with_audio: bool,
    /// Write the plots STEM-take and STEM-changes, as .svg or .png by the ending given
    #[arg(long, value_name = "STEM.svg|png", value_parser = plot_file)]
    pub(crate) plot: Option<PathBuf>,
    /// Width and height of the plots, in mm or px, as 180x100mm or 1200x700px
    #[arg(long, value_name = "SIZE", requires = "plot")]
    pub(crate) plot_size: Option<Size>,
    /// Write markers at expected and played times: a copy of the take with cue points (.wav), a table (.csv), or JAMS (.jams)
    #[arg(long, value_name = "F")]
    pub(crate) markers: Option<PathBuf>,
    /// Add the take to the journal; with --ladder-file each step of it as a take of its own
    #[arg(long, group = "keeping")]
    pub(crate) journal: bool,
    /// Journal to add to
    #[arg(long, value_name = "FILE", group = "keeping", value_hint = ValueHint::FilePath)]
    pub(crate) journal_file: Option<PathBuf>,
    /// Whether all tries are kept in the journal or only the best: picked bests flatter a trend
    #[arg(long, value_name = "all|best", requires = "keeping")]
    pub(crate) picked: Option<PickedArg>,
}

/// `takegauge ladder`
#[derive(Debug, Args)]
pub(crate) struct LadderArgs {
    /// The takes, in the order played
    #[arg(value_name = "TAKES", value_hint = ValueHint::FilePath)]
    pub(crate) takes: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) inputs: ScoreInputs,
    /// A TOML list of the takes and their tempos instead: a table `take` each, with path and tempo_bpm
    #[arg(long, value_name = "FILE", conflicts_with = "takes", value_hint = ValueHint::FilePath)]
    pub(crate) list: Option<PathBuf>,
    /// Write the result as JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
    /// Write one row a group and tempo as CSV
    #[arg(long, value_name = "F")]
    pub(crate) csv: Option<PathBuf>,
    /// Write the result as one HTML file
    #[arg(long, value_name = "F")]
    pub(crate) html: Option<PathBuf>,
    /// Write a plot per kind of change, .svg or .png
    #[arg(long, value_name = "F.svg|png", value_parser = plot_file)]
    pub(crate) plot: Option<PathBuf>,
}

/// `takegauge session`
#[derive(Debug, Args)]
pub(crate) struct SessionArgs {
    /// The takes, in the order played
    #[arg(value_name = "TAKES", required = true, value_hint = ValueHint::FilePath)]
    pub(crate) takes: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) inputs: ScoreInputs,
    /// Rests between the takes in seconds, separated by commas; else from the files' times
    #[arg(long, value_name = "S,S,...", value_delimiter = ',', value_parser = number, allow_negative_numbers = true)]
    pub(crate) rests: Vec<f64>,
    /// How many takes at the start were warm-up
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub(crate) warm_up: usize,
    /// Write the result as JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
}

/// `takegauge batch`
#[derive(Debug, Args)]
pub(crate) struct BatchArgs {
    /// A folder, takes, or - for a list of paths on standard input, one a line
    #[arg(value_name = "FOLDER|TAKES|-", required = true, value_hint = ValueHint::AnyPath)]
    pub(crate) takes: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) inputs: ScoreInputs,
    /// Write to this file instead of standard output; one that ends in .parquet becomes a table, one row a take, in which
    /// a take that could not be scored has a row with its reason
    #[arg(short, long, value_name = "F", value_hint = ValueHint::FilePath)]
    pub(crate) out: Option<PathBuf>,
    /// Write a table of all notes beside the table of takes: one row a note
    #[arg(long, value_name = "F.parquet", requires = "out", value_parser = parquet_file, value_hint = ValueHint::FilePath)]
    pub(crate) notes: Option<PathBuf>,
    /// Skip the takes that the output file already holds and add the others to it
    #[arg(long, requires = "out")]
    pub(crate) resume: bool,
    /// How many takes to score at once; 0 is one a core
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub(crate) jobs: usize,
}

/// `takegauge watch`
#[derive(Debug, Args)]
pub(crate) struct WatchArgs {
    /// The folder that the DAW bounces to
    #[arg(value_hint = ValueHint::DirPath)]
    pub(crate) folder: PathBuf,
    #[command(flatten)]
    pub(crate) inputs: ScoreInputs,
    /// Write reports here instead of beside the takes
    #[arg(long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub(crate) out: Option<PathBuf>,
    /// Folders below the watched one name the player
    #[arg(long)]
    pub(crate) folder_a_player: bool,
    /// Journal to add to; without it, the usual one
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) journal_file: Option<PathBuf>,
    /// Whether all tries come into the folder or only the best: picked bests flatter a trend
    #[arg(long, value_name = "all|best")]
    pub(crate) picked: Option<PickedArg>,
    /// Do not add to the journal
    #[arg(long, conflicts_with_all = ["journal_file", "picked"])]
    pub(crate) no_journal: bool,
    /// Score what is there and stop
    #[arg(long)]
    pub(crate) once: bool,
}
