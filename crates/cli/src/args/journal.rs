//! Arguments of the journal's commands.

use super::score::{PickedArg, ScoreInputs};
use super::values::plot_file;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args, Subcommand, ValueEnum, ValueHint};
use std::path::PathBuf;
use std::sync::LazyLock;
use takegauge_journal::{Day, RecordedAt};
use takegauge_review::history::Metric;

/// `takegauge journal`
#[derive(Debug, Args)]
pub(crate) struct JournalArgs {
    /// The journal; without it the one of the settings, else the usual place
    #[arg(long, global = true, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) journal_file: Option<PathBuf>,
    #[command(subcommand)]
    pub(crate) command: JournalCommand,
}

/// What to do with the journal.
#[derive(Debug, Subcommand)]
pub(crate) enum JournalCommand {
    /// Score takes and keep them
    Add(Box<AddArgs>),
    /// The takes, in the order recorded
    List(ListArgs),
    /// One take: what is kept of it, and its report
    Show(ShowArgs),
    /// What weeks of practice changed, or could not show
    Trend(TrendArgs),
    /// Two takes, or two sets of takes, held against how much takes differ on their own
    Compare(CompareArgs),
    /// What is due, what has stalled, what may go up in tempo, and what was set
    Plan(PlanArgs),
    /// One player at a glance: last take, what is open and since when, tempo reached, tasks, what is next
    Player(PlayerArgs),
    /// What a player is to practise until when: set it, tick it off
    #[command(subcommand)]
    Task(TaskCommand),
    /// Mend what stands beside takes: player, date, tags, note; `journal undo` takes it back
    Mend(MendArgs),
    /// Write the takes out: JSON Lines (nothing is lost), CSV, Parquet, or JAMS a take
    Export(ExportArgs),
    /// Bring JSON Lines back in
    Import {
        /// What `journal export` wrote, or - for standard input
        #[arg(value_name = "FILE|-", value_hint = ValueHint::FilePath)]
        file: PathBuf,
        #[command(flatten)]
        done: DoneArgs,
    },
    /// Take takes out; `journal undo` brings them back
    Delete(DeleteArgs),
    /// Take back the last deletion, new score, mending or change of tasks
    Undo(DoneArgs),
    /// Bring back what the last undo took out
    Redo(DoneArgs),
    /// Forget for good what was deleted, and give the room back
    Compact(DoneArgs),
    /// Look for damage
    Check {
        /// Write what can be read to a new journal
        #[arg(long, value_name = "NEW", value_hint = ValueHint::FilePath)]
        salvage: Option<PathBuf>,
        #[command(flatten)]
        done: DoneArgs,
    },
    /// Copy the journal to a new file, also while others write
    Backup {
        /// The copy; it must not be there yet
        #[arg(value_name = "NEW", value_hint = ValueHint::FilePath)]
        to: PathBuf,
        #[command(flatten)]
        done: DoneArgs,
    },
    /// Put a copy in the journal's place; the former journal is kept beside it
    Restore {
        /// What `journal backup` wrote, or any other copy of a journal
        #[arg(value_name = "BACKUP", value_hint = ValueHint::FilePath)]
        backup: PathBuf,
        #[command(flatten)]
        done: DoneArgs,
    },
}

/// Where it is told what was done.
#[derive(Debug, Clone, Args)]
pub(crate) struct DoneArgs {
    /// Write what was done as JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
}

/// What is kept beside the score.
#[derive(Debug, Clone, Default, Args)]
pub(crate) struct KeepArgs {
    /// When the take was recorded, as 2026-03-01T18:20:00+01:00, 2026-03-01T18:20 or 2026-03-01; else the file's time
    #[arg(long, value_name = "T")]
    pub(crate) recorded_at: Option<RecordedAt>,
    /// Whether all tries are kept in the journal or only the best: picked bests flatter a trend
    #[arg(long, value_name = "all|best")]
    pub(crate) picked: Option<PickedArg>,
    /// Which guitar
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) guitar: String,
    /// Amplifier, interface or microphone
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) microphone: String,
    /// A word to find the takes by; may be given several times
    #[arg(long = "tag", value_name = "WORD")]
    pub(crate) tags: Vec<String>,
    /// Anything else
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) note: String,
}

/// `takegauge journal add`
#[derive(Debug, Args)]
pub(crate) struct AddArgs {
    /// The recordings
    #[arg(value_name = "TAKES", required = true, value_hint = ValueHint::FilePath)]
    pub(crate) takes: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) inputs: ScoreInputs,
    #[command(flatten)]
    pub(crate) keep: KeepArgs,
    /// Score takes anew that are in the journal already; undo brings the old score back
    #[arg(long)]
    pub(crate) again: bool,
    #[command(flatten)]
    pub(crate) done: DoneArgs,
}

/// Which takes.
#[derive(Debug, Clone, Args)]
pub(crate) struct FilterArgs {
    /// Of this player
    #[arg(long, value_name = "NAME")]
    pub(crate) player: Option<String>,
    /// Of this drill: a drill file, its name, or the start of its id in `journal list --json`
    #[arg(short, long, value_name = "DRILL", value_hint = ValueHint::FilePath)]
    pub(crate) drill: Option<PathBuf>,
    /// Played at this tempo, 4 % either way, or from one to another: 160 or 150-170
    #[arg(long, value_name = "BPM|A-B")]
    pub(crate) tempo: Option<String>,
    /// From this day on: 2026-03-01
    #[arg(long, value_name = "DAY")]
    pub(crate) since: Option<String>,
    /// Up to this day, itself included
    #[arg(long, value_name = "DAY")]
    pub(crate) until: Option<String>,
    /// With this tag
    #[arg(long, value_name = "WORD")]
    pub(crate) tag: Option<String>,
}

/// `takegauge journal list`
#[derive(Debug, Args)]
pub(crate) struct ListArgs {
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    /// Write JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
}

/// `takegauge journal show`
#[derive(Debug, Args)]
pub(crate) struct ShowArgs {
    /// The take's number, as `journal list` shows it
    #[arg(value_name = "TAKE", value_parser = take_number)]
    pub(crate) take: i64,
    /// Write the score as JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
    /// Write the report as one HTML file
    #[arg(long, value_name = "F")]
    pub(crate) html: Option<PathBuf>,
}

/// `takegauge journal trend`
#[derive(Debug, Args)]
pub(crate) struct TrendArgs {
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    /// Which notes: "change" (all string changes), "inside", "3>2", "whole take" ...; with neither this nor --metric: what
    /// changed most over all kinds and figures
    #[arg(long, value_name = "GROUP")]
    pub(crate) group: Option<String>,
    /// What of them is the question; the other figures are corrected for their number
    #[arg(long, value_name = "FIGURE", value_parser = metric())]
    pub(crate) metric: Option<Metric>,
    /// Write the result as JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
    /// Write a plot of the question, .svg or .png
    #[arg(long, value_name = "F.svg|png", value_parser = plot_file)]
    pub(crate) plot: Option<PathBuf>,
}

/// Figures that a trend follows, spelt as in JSON but with hyphens.
static METRICS: LazyLock<Vec<(String, Metric)>> =
    LazyLock::new(|| Metric::all().into_iter().map(|m| (m.name().replace('_', "-"), m)).collect());

fn metric() -> impl TypedValueParser<Value = Metric> {
    let named = |name: String| METRICS.iter().find(|(known, _)| *known == name).map(|(_, metric)| *metric);
    PossibleValuesParser::new(METRICS.iter().map(|(name, _)| name.as_str()))
        .try_map(move |name| named(name).ok_or("no such figure"))
}

/// `takegauge journal compare`
#[derive(Debug, Args)]
pub(crate) struct CompareArgs {
    /// A take's number, several as 12,13,15-18, or tag:WORD
    #[arg(value_name = "A")]
    pub(crate) first: String,
    /// The same for the second set
    #[arg(value_name = "B")]
    pub(crate) second: String,
    /// Draw both sets over each other, as .svg or .png
    #[arg(long, value_name = "F.svg|png", value_parser = plot_file)]
    pub(crate) plot: Option<PathBuf>,
    /// Write the result as JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
}

/// `takegauge journal plan`
#[derive(Debug, Args)]
pub(crate) struct PlanArgs {
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    /// The day to plan for; else today
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub(crate) today: Option<Day>,
    /// Write the result as JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
}

/// `takegauge journal player`
#[derive(Debug, Args)]
pub(crate) struct PlayerArgs {
    /// Whom; without it the one of the settings, or the only one there is
    #[arg(value_name = "NAME")]
    pub(crate) player: Option<String>,
    /// The day to tell it for; else today
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub(crate) today: Option<Day>,
    /// Write the result as JSON to a file, or to standard output with -
    #[arg(long, value_name = "F")]
    pub(crate) json: Option<PathBuf>,
}

/// What to do with tasks.
#[derive(Debug, Subcommand)]
pub(crate) enum TaskCommand {
    /// Set a player a task: words, a drill or a take's practice loop, a tempo, a day
    Set(TaskSetArgs),
    /// The tasks, the most urgent first; overdue ones are called so
    List {
        /// Of this player
        #[arg(long, value_name = "NAME")]
        player: Option<String>,
        /// Those that are done too
        #[arg(long)]
        all: bool,
        /// The day to tell it for; else today
        #[arg(long, value_name = "DAY", value_parser = day)]
        today: Option<Day>,
        #[command(flatten)]
        done: DoneArgs,
    },
    /// Tick tasks off
    Done {
        #[command(flatten)]
        which: TaskNumbers,
        /// The day they were done; else today
        #[arg(long, value_name = "DAY", value_parser = day)]
        today: Option<Day>,
        #[command(flatten)]
        done: DoneArgs,
    },
    /// Open tasks again that were ticked off
    Open {
        #[command(flatten)]
        which: TaskNumbers,
        #[command(flatten)]
        done: DoneArgs,
    },
    /// Take tasks away; `journal undo` brings them back
    Delete {
        #[command(flatten)]
        which: TaskNumbers,
        #[command(flatten)]
        done: DoneArgs,
    },
}

/// Which tasks.
#[derive(Debug, Args)]
pub(crate) struct TaskNumbers {
    /// Numbers of tasks, as 3 5 7-9
    #[arg(value_name = "TASKS", required = true)]
    pub(crate) tasks: Vec<String>,
}

/// `takegauge journal task set`
#[derive(Debug, Args)]
pub(crate) struct TaskSetArgs {
    /// What to do, in words; not needed where a drill says it
    #[arg(value_name = "WORDS")]
    pub(crate) words: Vec<String>,
    /// For whom; without it the one of the settings, or the only one there is
    #[arg(long, value_name = "NAME")]
    pub(crate) player: Option<String>,
    /// A drill: a file, a built-in one, or one of the journal by its name
    #[arg(short, long, value_name = "DRILL", value_hint = ValueHint::FilePath)]
    pub(crate) drill: Option<PathBuf>,
    /// A practice loop of a take instead: the take's number, or 12.2 for its second loop
    #[arg(long = "loop", value_name = "TAKE[.N]", conflicts_with = "drill")]
    pub(crate) practice_loop: Option<String>,
    /// The tempo to reach
    #[arg(long, value_name = "BPM")]
    pub(crate) tempo: Option<f64>,
    /// Until when: 2026-03-08
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub(crate) due: Option<Day>,
    /// The day it is set; else today
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub(crate) today: Option<Day>,
    #[command(flatten)]
    pub(crate) done: DoneArgs,
}

/// `takegauge journal mend`
#[derive(Debug, Args)]
pub(crate) struct MendArgs {
    /// Numbers of takes, as 12 13 15-18
    #[arg(value_name = "TAKES", required = true)]
    pub(crate) takes: Vec<String>,
    /// Whose playing it is
    #[arg(long, value_name = "NAME")]
    pub(crate) player: Option<String>,
    /// When the take was recorded, as 2026-03-01T18:20:00+01:00, or 2026-03-01T18:20 on the clock it was recorded by; a day
    /// alone keeps the time of day
    #[arg(long, value_name = "T")]
    pub(crate) recorded_at: Option<String>,
    /// Whether all tries are kept in the journal or only the best
    #[arg(long, value_name = "all|best")]
    pub(crate) picked: Option<PickedArg>,
    /// Which guitar; "" for none
    #[arg(long, value_name = "TEXT")]
    pub(crate) guitar: Option<String>,
    /// Amplifier, interface or microphone; "" for none
    #[arg(long, value_name = "TEXT")]
    pub(crate) microphone: Option<String>,
    /// One more word to find the takes by; may be given several times
    #[arg(long = "tag", value_name = "WORD")]
    pub(crate) tags: Vec<String>,
    /// A tag to take away; may be given several times
    #[arg(long = "untag", value_name = "WORD")]
    pub(crate) untag: Vec<String>,
    /// Another note; "" for none
    #[arg(long, value_name = "TEXT")]
    pub(crate) note: Option<String>,
    #[command(flatten)]
    pub(crate) done: DoneArgs,
}

/// `takegauge journal export`
#[derive(Debug, Args)]
pub(crate) struct ExportArgs {
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    /// jsonl (all there is), csv or parquet (figures, one row a take and group), jams (a file a take)
    #[arg(long, value_name = "FORMAT", default_value = "jsonl")]
    pub(crate) format: ExportFormat,
    /// The file to write, or - for standard output; for jams a folder
    #[arg(short, long, value_name = "F|-", default_value = "-", value_hint = ValueHint::AnyPath)]
    pub(crate) out: PathBuf,
}

/// A format to export.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ExportFormat {
    Jsonl,
    Csv,
    #[cfg(feature = "parquet")]
    Parquet,
    Jams,
}

/// `takegauge journal delete`
#[derive(Debug, Args)]
pub(crate) struct DeleteArgs {
    /// Numbers of takes, as 12 13 15-18; without them all that the filters let through
    #[arg(value_name = "TAKES")]
    pub(crate) takes: Vec<String>,
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    /// Do not ask
    #[arg(short, long)]
    pub(crate) yes: bool,
    #[command(flatten)]
    pub(crate) done: DoneArgs,
}

fn day(text: &str) -> Result<Day, String> {
    text.parse()
}

fn take_number(text: &str) -> Result<i64, &'static str> {
    text.parse().map_err(|_| "give a take's number, as `journal list` shows it")
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::{Arg, Command};

    #[test]
    fn figures_are_spelt_as_in_json_but_with_hyphens() {
        let command = Command::new("t").arg(Arg::new("metric").value_parser(metric()));
        for (name, metric) in METRICS.iter() {
            let found = command.clone().get_matches_from(["t", name]);
            assert_eq!(found.get_one("metric"), Some(metric));
        }
        assert!(METRICS.iter().any(|(name, _)| name == "clean-tempo"));
        assert!(command.try_get_matches_from(["t", "clean_tempo"]).is_err());
    }
}
