//! `takegauge drill ...`

use crate::args::DrillCommand;
use crate::commands::score::{open_drill, text_style};
use crate::fault::Outcome;
use crate::output;
use takegauge_drill::built_in;
use takegauge_report::{Align, Table};

pub(crate) fn run(command: &DrillCommand) -> Outcome {
    match command {
        DrillCommand::Check { drill } => check(drill),
        DrillCommand::Show { drill, toml } => {
            let drill = open_drill(drill)?;
            output::print(&if *toml { drill.to_toml() } else { drill.show() })
        }
        DrillCommand::List => list(),
    }
}

fn check(named: &std::path::Path) -> Outcome {
    let drill = open_drill(named)?;
    let style = text_style();
    let doubts = drill.check();
    let notes = drill.grid().len();
    let head = format!("{}: reads without error, {notes} notes in {} repeats.\n", drill.name, drill.repeats);
    let doubts: String = doubts.iter().map(|d| style.item(&d.text)).collect();
    let body = if doubts.is_empty() {
        "Nothing doubtful.\n".to_owned()
    } else {
        format!("To look at before recording:\n{doubts}")
    };
    output::print(&format!("{head}{body}"))
}

fn list() -> Outcome {
    let mut table = Table::new(&[
        ("name", Align::Left),
        ("bpm", Align::Right),
        ("notes", Align::Right),
        ("what it isolates", Align::Left),
    ]);
    for b in built_in() {
        if let Ok(d) = b.drill() {
            table.row([b.name.to_owned(), format!("{:.0}", d.tempo.0), d.grid().len().to_string(), d.note]);
        }
    }
    output::print(&table.text(0))
}
