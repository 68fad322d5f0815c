//! A review as text, JSON, CSV, plots and one-file HTML. Pure functions from report data to bytes; files are written
//! by the caller.

mod csv;
mod html;
mod json;
mod plot;
mod table;
mod text;
mod words;

pub use csv::{changes_csv, notes_csv};
pub use html::{STYLE, Sound, score_html};
pub use json::{json, json_line};
pub use plot::{Format, PlotError, Size, changes_plot, take_plot};
pub use table::{Align, Table};
pub use text::{Style, score_text};
