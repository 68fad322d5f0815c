//! Values that several commands read alike.

use std::path::PathBuf;
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
