//! Values that several commands read alike.

use std::path::{Path, PathBuf};
use std::str::FromStr;
use takegauge_report::{Format, PlotError};

/// A number; its range is checked where it is used.
pub(crate) fn number(text: &str) -> Result<f64, &'static str> {
    text.trim().parse().map_err(|_| "this is no number; write for example 120 or 97.5")
}

/// A whole number of such a type; what is none is told with `allowed`, as the drill's own rules tell a number out of range.
fn whole<T: FromStr>(text: &str, allowed: &str) -> Result<T, String> {
    text.trim().parse().map_err(|_| format!("give a whole number, {allowed}"))
}

/// Declares readers of whole numbers, each with what is allowed.
macro_rules! whole_numbers {
    ($($(#[$doc:meta])* $name:ident: $type:ty = $allowed:literal;)*) => {
        $($(#[$doc])* pub(crate) fn $name(text: &str) -> Result<$type, String> { whole(text, $allowed) })*
    };
}

whole_numbers! {
    /// Lowest fret of a hand position.
    position: u8 = "0 to 24";
    /// Notes on one string.
    notes_a_string: u8 = "1 to 6";
    /// Notes of a group in a sequence.
    sequence: u8 = "3 or 4";
    /// Strings left out at a change.
    skip: u8 = "0 to 2";
    /// Frets of a hand position.
    span: u8 = "2 to 7";
    /// Steps a beat.
    steps_a_beat: u8 = "1 to 12";
    /// Times that a line is played.
    repeats: u32 = "1 to 1000";
    /// Semitones up or down.
    semitones: i8 = "as 2, or -2 for lower; no fret below 0 (open) or above 36";
    /// Strings up or down in number.
    strings: i8 = "as 1, or -1 for lower; no note beyond the drill's strings";
    /// A part of a file.
    part: usize = "1 or more";
    /// A suggestion's number.
    suggestion: usize = "as listed by `takegauge drill show`";
}

/// A plot's file, refused before any work where its ending names no format.
pub(crate) fn plot_file(text: &str) -> Result<PathBuf, PlotError> {
    let path = PathBuf::from(text);
    Format::of(&path).map(|_| path)
}

/// A Parquet file.
pub(crate) fn parquet_file(text: &str) -> Result<PathBuf, &'static str> {
    let path = PathBuf::from(text);
    if is_parquet(&path) { Ok(path) } else { Err("a Parquet file's name ends in .parquet") }
}

/// Whether a file's name is a Parquet file's.
pub(crate) fn is_parquet(path: &Path) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case("parquet"))
}
