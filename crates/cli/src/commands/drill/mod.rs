//! `takegauge drill ...`

mod exchange;
mod give;
mod grid;
mod make;

use crate::args::{Common, DrillCommand};
use crate::commands::inputs::open_drill;
use crate::fault::{Fault, Outcome};
use crate::output;
use crate::output::text_style;
use std::path::Path;
use takegauge_drill::advise::advise;
use takegauge_drill::built_in;
use takegauge_report::{Align, Table};

pub(crate) fn run(command: &DrillCommand, common: &Common) -> Outcome {
    match command {
        DrillCommand::Check { drill } => check(drill),
        DrillCommand::Show { drill, json: true, .. } => grid::print(drill),
        DrillCommand::Show { drill, toml, suggestion, .. } => show(drill, *toml, *suggestion),
        DrillCommand::List => list(),
        DrillCommand::Make(args) => make::make(args, common),
        DrillCommand::Alter(args) => make::alter(args),
        DrillCommand::Import(args) => exchange::import(args, common),
        DrillCommand::Export(args) => exchange::export(args),
    }
}

fn show(named: &Path, toml: bool, suggestion: Option<usize>) -> Outcome {
    let drill = open_drill(named)?;
    if toml {
        return output::exactly(drill.to_toml().as_bytes());
    }
    let suggestions = advise(&drill);
    if let Some(n) = suggestion {
        let chosen = n.checked_sub(1).and_then(|i| suggestions.get(i));
        let chosen = chosen.ok_or_else(|| {
            Fault::usage(format!("--suggestion {n}: there are {} suggestions for this drill", suggestions.len()))
        })?;
        return output::exactly(chosen.drill.to_toml().as_bytes());
    }
    let mut text = drill.show();
    if !suggestions.is_empty() {
        text.push_str("Print one of these as a drill file with --suggestion N.\n");
    }
    output::print(&text)
}

fn check(named: &Path) -> Outcome {
    let drill = open_drill(named)?;
    let style = text_style();
    let doubts = drill.check();
    let notes = drill.grid().len();
    let s = |n: usize| if n == 1 { "" } else { "s" };
    let head = format!(
        "{}: reads without error, {notes} note{} in {} repeat{}.\n",
        drill.name,
        s(notes),
        drill.repeats,
        s(drill.repeats as usize)
    );
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
