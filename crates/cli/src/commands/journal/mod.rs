//! `takegauge journal`: the practice history.

mod add;
mod asked;
mod care;
mod compare;
mod files;
mod list;
mod mend;
mod plan;
mod player;
mod tasks;
mod told;
mod trend;

pub(crate) use add::{Keeper, keep, keep_step};

use crate::args::{Common, JournalArgs, JournalCommand};
use crate::config::Config;
use crate::fault::Outcome;
use takegauge_journal::Journal;
use told::fault;

pub(crate) fn run(args: &JournalArgs, common: &Common) -> Outcome {
    let config = Config::read(common)?;
    let path = config.journal(args.journal_file.as_deref())?;
    let open = || Journal::open(&path).map_err(|e| fault(e, &path));
    match &args.command {
        JournalCommand::Add(a) => add::run(a, common, &config, &path),
        JournalCommand::List(a) => list::list(a, &open()?),
        JournalCommand::Show(a) => list::show(a, &open()?),
        JournalCommand::Trend(a) => trend::run(a, &config, &open()?),
        JournalCommand::Compare(a) => compare::run(a, &open()?),
        JournalCommand::Plan(a) => plan::run(a, &open()?),
        JournalCommand::Player(a) => player::run(a, &config, &open()?),
        JournalCommand::Task(a) => tasks::run(a, &config, &path),
        JournalCommand::Mend(a) => mend::run(a, &mut open()?),
        JournalCommand::Export(a) => files::export(a, &open()?),
        JournalCommand::Import { file, done } => files::import(file, &path, common, done),
        JournalCommand::Delete(a) => care::delete(a, &mut open()?),
        JournalCommand::Undo(done) => care::undo(&mut open()?, done),
        JournalCommand::Redo(done) => care::redo(&mut open()?, done),
        JournalCommand::Compact(done) => care::compact(&mut open()?, done),
        JournalCommand::Check { salvage, done } => care::check(&path, salvage.as_deref(), done),
        JournalCommand::Backup { to, done } => care::backup(&open()?, to, done),
        JournalCommand::Restore { backup, done } => care::restore(backup, &path, done),
    }
}
