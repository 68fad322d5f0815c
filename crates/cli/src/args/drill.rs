//! Arguments of the commands about drills.

use super::score::StrokeArg;
use super::values::{
    notes_a_string, number, part, position, repeats, semitones, sequence, skip, span, steps_a_beat, strings, suggestion,
};
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
        #[arg(long, conflicts_with_all = ["suggestion", "json"])]
        toml: bool,
        /// Print every note of all repeats as JSON: time, string, fret, pitch, stroke and change
        #[arg(long, conflicts_with = "suggestion")]
        json: bool,
        /// Print the drill file of one of the suggestions made at the end
        #[arg(long, value_name = "N", value_parser = suggestion)]
        suggestion: Option<usize>,
    },
    /// List the built-in drills and what each isolates
    List,
    /// Make a drill from a scale or chord, a position and a number of notes a string, aimed at one change if wanted
    Make(Box<MakeArgs>),
    /// Change a drill: other first stroke, mirrored, transposed, on other strings, or one change of it as a loop
    Alter(AlterArgs),
    /// Bring in MusicXML (.xml, .musicxml, .mxl), MIDI, plain tablature text or JAMS
    Import(DrillImportArgs),
    /// Take out as MusicXML 4.0, MIDI, plain tablature text with stroke signs, or a drill file
    Export(DrillExportArgs),
}

/// `takegauge drill make`
#[derive(Debug, Args)]
pub(crate) struct MakeArgs {
    /// Scale or chord, as "A minor pentatonic" or "C major 7 chord"; a wrong name lists what is known
    #[arg(value_name = "SCALE")]
    pub(crate) scale: String,
    /// Lowest fret of the hand
    #[arg(long, value_name = "FRET", default_value_t = 5, value_parser = position)]
    pub(crate) position: u8,
    /// Notes on each string in turn, as 3 or 4,3
    #[arg(long, value_name = "N,N,...", value_delimiter = ',', default_value = "3", value_parser = notes_a_string)]
    pub(crate) notes: Vec<u8>,
    /// First and last string, as 6-1; else all
    #[arg(long, value_name = "A-B")]
    pub(crate) strings: Option<String>,
    /// Which way the line runs
    #[arg(long, value_name = "WAY", default_value = "both")]
    pub(crate) direction: DirectionArg,
    /// Groups of 3 or 4 notes, each starting one note further
    #[arg(long, value_name = "N", value_parser = sequence)]
    pub(crate) sequence: Option<u8>,
    /// Strings left out at each change
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = skip)]
    pub(crate) skip: u8,
    /// One note a string instead of runs: over so many strings (3 to 5), or over these, as 4-1
    #[arg(long, value_name = "N|A-B")]
    pub(crate) roll: Option<String>,
    /// Train only this kind of change
    #[arg(long, value_name = "KIND", group = "aim")]
    pub(crate) only: Option<KindArg>,
    /// Train only changes that leave a string on this stroke
    #[arg(long, value_name = "STROKE", group = "aim")]
    pub(crate) leaves_on: Option<StrokeArg>,
    /// Train only the change from one string to another, as 3-2 (or '3>2' in quotes)
    #[arg(long, value_name = "FROM-TO", group = "aim")]
    pub(crate) change: Option<String>,
    /// Frets between the lowest and the highest of a hand position
    #[arg(long, value_name = "FRETS", default_value_t = 4, value_parser = span)]
    pub(crate) span: u8,
    /// Tuning by name or pitches, low string first
    #[arg(long, value_name = "TUNING")]
    pub(crate) tuning: Option<String>,
    /// Quarter notes a minute
    #[arg(long, value_name = "BPM", default_value_t = 100.0, value_parser = number, allow_negative_numbers = true)]
    pub(crate) tempo: f64,
    /// Steps a beat: 3 triplets, 4 sixteenths, 6 sextuplets
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = steps_a_beat)]
    pub(crate) steps_per_beat: u8,
    /// Times the line is played
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = repeats)]
    pub(crate) repeats: u32,
    /// How strokes are chosen
    #[arg(long, value_name = "HOW", default_value = "alternate")]
    pub(crate) picking: PickingArg,
    /// First stroke
    #[arg(long, value_name = "STROKE", default_value = "down")]
    pub(crate) first_stroke: StrokeArg,
    #[command(flatten)]
    pub(crate) out: OutArg,
}

/// Where a drill goes.
#[derive(Debug, Clone, Args)]
pub(crate) struct OutArg {
    /// Write the drill file here; else it is printed
    #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) out: Option<PathBuf>,
}

/// `takegauge drill alter`
#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("how"))]
#[command(group = clap::ArgGroup::new("anything").required(true).multiple(true))]
pub(crate) struct AlterArgs {
    /// Drill file, or the name of a built-in drill
    #[arg(value_name = "DRILL", value_hint = ValueHint::FilePath)]
    pub(crate) drill: PathBuf,
    /// Start on this stroke
    #[arg(long, value_name = "STROKE", groups = ["how", "anything"])]
    pub(crate) start: Option<StrokeArg>,
    /// Swap the strings: the thinnest becomes the thickest
    #[arg(long, groups = ["how", "anything"])]
    pub(crate) mirror: bool,
    /// So many semitones higher, or lower with a minus
    #[arg(long, value_name = "N", groups = ["how", "anything"], allow_negative_numbers = true, value_parser = semitones)]
    pub(crate) transpose: Option<i8>,
    /// To strings with numbers so much higher, or lower with a minus
    #[arg(long, value_name = "N", groups = ["how", "anything"], allow_negative_numbers = true, value_parser = strings)]
    pub(crate) shift_strings: Option<i8>,
    /// Take one change out as a loop, as 3-2 (or '3>2' in quotes)
    #[arg(long, value_name = "FROM-TO", groups = ["how", "anything"])]
    pub(crate) take_out: Option<String>,
    /// Another name
    #[arg(long, value_name = "NAME", group = "anything")]
    pub(crate) name: Option<String>,
    /// Another tempo, quarter notes a minute
    #[arg(long, value_name = "BPM", value_parser = number, group = "anything", allow_negative_numbers = true)]
    pub(crate) tempo: Option<f64>,
    /// Play the line so many times
    #[arg(long, value_name = "N", group = "anything", value_parser = repeats)]
    pub(crate) repeats: Option<u32>,
    #[command(flatten)]
    pub(crate) out: OutArg,
}

/// `takegauge drill import`
#[derive(Debug, Args)]
pub(crate) struct DrillImportArgs {
    /// The file to bring in
    #[arg(value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) file: PathBuf,
    /// Which part, track or annotation, from 1; else the first with notes
    #[arg(long, value_name = "N", value_parser = part)]
    pub(crate) part: Option<usize>,
    /// First and last bar, as 5-8
    #[arg(long, value_name = "A-B")]
    pub(crate) bars: Option<String>,
    /// Which voice of a MusicXML part; else the one with the most notes
    #[arg(long, value_name = "VOICE")]
    pub(crate) voice: Option<String>,
    /// Tuning by name or pitches, where the file says none
    #[arg(long, value_name = "TUNING")]
    pub(crate) tuning: Option<String>,
    /// The drill's name, instead of what the file calls it
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    /// Tempo instead of the file's, quarter notes a minute
    #[arg(long, value_name = "BPM", value_parser = number, allow_negative_numbers = true)]
    pub(crate) tempo: Option<f64>,
    /// Play the line so many times
    #[arg(long, value_name = "N", value_parser = repeats)]
    pub(crate) repeats: Option<u32>,
    /// Steps a beat to move times to (MIDI, JAMS); in tablature text, every note takes one step
    #[arg(long, value_name = "N", value_parser = steps_a_beat)]
    pub(crate) even: Option<u8>,
    #[command(flatten)]
    pub(crate) out: OutArg,
}

/// `takegauge drill export`
#[derive(Debug, Args)]
pub(crate) struct DrillExportArgs {
    /// Drill file, or the name of a built-in drill
    #[arg(value_name = "DRILL", value_hint = ValueHint::FilePath)]
    pub(crate) drill: PathBuf,
    /// Where to write it: .musicxml, .mid, .txt or .toml
    #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) out: PathBuf,
}

/// Which way a line runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum DirectionArg {
    Ascending,
    Descending,
    Both,
}

/// A kind of change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum KindArg {
    Outside,
    Inside,
    Sweep,
    SameStroke,
}

/// How strokes are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum PickingArg {
    Alternate,
    Economy,
    Down,
    Written,
}

/// `takegauge click`
#[derive(Debug, Args)]
pub(crate) struct ClickArgs {
    /// Drill file, or the name of a built-in drill
    #[arg(value_name = "DRILL", value_hint = ValueHint::FilePath)]
    pub(crate) drill: PathBuf,
    /// Where to write the click, .wav or .mid
    #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath, required_unless_present = "loopback_check")]
    pub(crate) out: Option<PathBuf>,
    /// Measure the set-up's delay: TAKE is this click, played and recorded by the set-up from its first sample on
    #[arg(long, value_name = "TAKE", requires = "device", value_hint = ValueHint::FilePath)]
    pub(crate) loopback_check: Option<PathBuf>,
    /// The recording device's name, under which its delay is kept for `score --delay NAME`
    #[arg(long, value_name = "NAME", requires = "loopback_check")]
    pub(crate) device: Option<String>,
    /// Where measured delays are kept; the usual place is the system's data folder
    #[arg(long, value_name = "FILE", requires = "loopback_check", value_hint = ValueHint::FilePath)]
    pub(crate) delay_file: Option<PathBuf>,
    /// Play the drill's notes on a modelled string under the click (.wav)
    #[arg(long)]
    pub(crate) guide: bool,
    /// Tempo instead of the drill's, quarter notes a minute; several, separated by commas, follow each other in one file
    #[arg(long, value_name = "BPM,BPM,...", value_delimiter = ',', value_parser = number, allow_negative_numbers = true)]
    pub(crate) tempo: Vec<f64>,
    /// Repeats of the line at each tempo instead of the drill's
    #[arg(long, value_name = "N", value_parser = repeats)]
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
