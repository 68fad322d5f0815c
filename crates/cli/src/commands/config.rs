//! `takegauge config`: what is set, and where from.

use crate::args::Common;
use crate::config::{Config, data_folder, file_of};
use crate::fault::Outcome;
use crate::output;
use takegauge_drill::Tuning;
use takegauge_report::{Align, Table};

pub(crate) fn run(common: &Common) -> Outcome {
    let file = file_of(common);
    let config = Config::read(common)?;
    let from_file = || match &file {
        Some(path) => path.display().to_string(),
        None => "the settings".to_owned(),
    };
    let mut table = Table::new(&[("setting", Align::Left), ("value", Align::Left), ("from", Align::Left)]);
    let mut row = |name: &str, set: Option<String>, otherwise: (String, &str)| {
        let (value, from) = match set {
            Some(value) => (value, from_file()),
            None => (otherwise.0, otherwise.1.to_owned()),
        };
        table.row([name.to_owned(), value, from]);
    };
    row("player", config.player.clone(), ("none".to_owned(), "nothing: --player says it, or the journal's one player"));
    row("tuning", config.tuning.as_ref().map(Tuning::pitches), (Tuning::standard().pitches(), "the program"));
    let usual = config.journal(None).map_or_else(|_| "none".to_owned(), |p| p.display().to_string());
    row("journal", config.journal.as_ref().map(|p| p.display().to_string()), (usual, "the system's data folder"));
    let delays = data_folder().map_or("none".to_owned(), |f| crate::delays::file_in(&f).display().to_string());
    row("delays", None, (delays, "the system's data folder"));
    let head = match &file {
        Some(path) if path.is_file() => format!("Settings: {}\n", path.display()),
        Some(path) => format!("Settings: none; {} is where they would be read from\n", path.display()),
        None => "Settings: none; this system names no folder for them, so give --config FILE\n".to_owned(),
    };
    output::print(&format!("{head}\n{}", table.text(0)))
}
