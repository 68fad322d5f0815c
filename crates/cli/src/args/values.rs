//! Values that several commands read alike.

use std::path::{Path, PathBuf};
use takegauge_report::{Format, PlotError};

/// A number; its range is checked where it is used.
pub(crate) fn number(text: &str) -> Result<f64, &'static str> {
    text.trim().parse().map_err(|_| "this is no number; write for example 120 or 97.5")
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
