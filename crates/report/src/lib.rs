//! A review as text, JSON, CSV, plots and one-file HTML. Pure functions from report data to bytes; files are written
//! by the caller.

mod brief;
mod columns;
mod csv;
mod drill;
mod groups;
mod history;
mod html;
mod jams;
mod json;
mod ladder;
mod markers;
mod player;
mod plot;
mod session;
mod style;
mod table;
mod text;
mod words;

pub use brief::score_brief;
pub use csv::{changes_csv, csv_line, figure_cells, figure_names, ladder_csv, notes_csv};
pub use drill::DrillReport;
pub use history::{compare_text, plan_text, trend_text};
pub use html::{
    LoopActions, Media, STYLE, Side, Sound, SoundAt, address_from, drill_line, ladder_card, pair_script, pair_sections,
    plot_in_page, report_script, score_card, score_html, score_html_filmed, score_html_with, score_sections,
    score_sections_with, student_html, student_sections, theme_script,
};
pub use jams::jams;
pub use json::{json, json_line};
pub use ladder::{folded, ladder_html, ladder_plot, ladder_text, shown_and_folded};
pub use markers::{Marker, markers, markers_csv};
pub use player::{finding_state, player_text, task_state, tasks_text};
pub use plot::{Format, PlotError, Size, changes_plot, compare_plot, take_plot, trend_plot};
pub use session::session_text;
pub use style::Style;
pub use table::{Align, Table};
pub use text::score_text;
pub use words::{signed, spread};
