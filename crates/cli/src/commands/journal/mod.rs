//! `takegauge journal`: the practice history.

mod add;
mod care;
mod compare;
mod files;
mod list;
mod plan;
mod trend;

pub(crate) use add::{Keeper, keep};

use crate::args::{Common, DoneArgs, FilterArgs, JournalArgs, JournalCommand};
use crate::commands::score::open_drill;
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use crate::output;
use std::io::{IsTerminal, Write};
use std::path::Path;
use takegauge_journal::{Day, Filter, Journal, JournalError, drill_hash, take_numbers};
use takegauge_report::json;
use takegauge_review::history::LIKE_TEMPO;

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
        JournalCommand::Export(a) => files::export(a, &open()?),
        JournalCommand::Import { file, done } => files::import(file, &path, common, done),
        JournalCommand::Delete(a) => care::delete(a, &mut open()?),
        JournalCommand::Undo(done) => care::undo(&mut open()?, done),
        JournalCommand::Compact(done) => care::compact(&mut open()?, done),
        JournalCommand::Check { salvage, done } => care::check(&path, salvage.as_deref(), done),
        JournalCommand::Backup { to, done } => care::backup(&open()?, to, done),
    }
}

/// A journal's error as the user reads it, with what to do.
pub(crate) fn fault(e: JournalError, path: &Path) -> Fault {
    let advice = match &e {
        JournalError::Missing { .. } => {
            Some("`takegauge journal add` makes a journal; --journal-file names another one".to_owned())
        }
        JournalError::Open { .. } => {
            Some("check the rights of the file and its folder, or name another journal with --journal-file".to_owned())
        }
        JournalError::Damaged { .. } => Some(format!(
            "keep the file; `takegauge journal check --journal-file {} --salvage NEW` writes what can be read to a new one",
            path.display()
        )),
        JournalError::TooNew { .. } => Some("use the version of takegauge that wrote it, or a later one".to_owned()),
        JournalError::Write { .. } => Some("check the room on the disk and the rights of the folder".to_owned()),
        JournalError::Busy { .. } => Some("try again when the other program is done".to_owned()),
        JournalError::OtherPlayer { .. } => {
            Some("one recording belongs to one player; delete that take first".to_owned())
        }
        _ => None,
    };
    let fault = Fault::usage(e);
    match advice {
        Some(line) => fault.advise(line),
        None => fault,
    }
}

/// "1 fault", "3 faults".
fn faults(n: usize) -> String {
    format!("{n} fault{}", if n == 1 { "" } else { "s" })
}

/// Tells what was done: in words, or as JSON where that is asked for.
fn done(args: &DoneArgs, shape: &serde_json::Value, words: &str) -> Outcome {
    match &args.json {
        Some(path) => output::write(path, json(shape).as_bytes()),
        None => output::print(words),
    }
}

/// What the filter options let through.
pub(crate) fn filter(args: &FilterArgs, journal: &Journal) -> Outcome<Filter> {
    let day = |name: &str, text: &Option<String>| -> Outcome<Option<Day>> {
        text.as_deref().map(str::parse).transpose().map_err(|e: String| Fault::usage(format!("--{name}: {e}")))
    };
    Ok(Filter {
        player: args.player.clone(),
        drills: args.drill.as_deref().map(|d| drills(d, journal)).transpose()?,
        tempo_bpm: args.tempo.as_deref().map(tempo).transpose()?,
        since: day("since", &args.since)?,
        until: day("until", &args.until)?,
        tag: args.tag.clone(),
        takes: None,
    })
}

/// "160" with 4 % either way, or "150-170".
fn tempo(text: &str) -> Outcome<[f64; 2]> {
    let wrong = || Fault::usage(format!("--tempo {text}: give a tempo as 160, or a range as 150-170"));
    let number = |t: &str| t.trim().parse::<f64>().ok().filter(|x| (1.0..=1000.0).contains(x)).ok_or_else(wrong);
    match text.split_once('-') {
        Some((low, high)) => Ok([number(low)?, number(high)?]),
        None => number(text).map(|t| [t * (1.0 - LIKE_TEMPO), t * (1.0 + LIKE_TEMPO)]),
    }
}

/// The journal's drills that a name, a file or the start of an id stands for.
fn drills(named: &Path, journal: &Journal) -> Outcome<Vec<i64>> {
    let known = journal.drills().map_err(|e| fault(e, journal.path()))?;
    let text = named.to_string_lossy();
    let words = |t: &str| -> Vec<String> {
        t.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_lowercase).collect()
    };
    let is_id = text.len() >= 6 && text.bytes().all(|b| b.is_ascii_hexdigit());
    let mut ids: Vec<i64> = known
        .iter()
        .filter(|d| words(&d.name) == words(&text) || (is_id && d.hash.starts_with(&text.to_lowercase())))
        .map(|d| d.id)
        .collect();
    if ids.is_empty()
        && let Ok(drill) = open_drill(named)
    {
        let hash = drill_hash(&drill);
        ids = known.iter().filter(|d| d.hash == hash).map(|d| d.id).collect();
    }
    if ids.is_empty() {
        let names: Vec<&str> = known.iter().map(|d| d.name.as_str()).collect();
        return Err(Fault::usage(format!("the journal has no drill {text:?}"))
            .advise(format!("it has: {}", if names.is_empty() { "none yet".to_owned() } else { names.join(", ") })));
    }
    Ok(ids)
}

/// The one player that a question is about: the filter's, the settings', or the only one there is.
pub(crate) fn one_player(given: Option<&str>, config: &Config, journal: &Journal) -> Outcome<String> {
    if let Some(player) = given.or(config.player.as_deref()) {
        return Ok(player.to_owned());
    }
    let players = journal.players().map_err(|e| fault(e, journal.path()))?;
    match players.as_slice() {
        [only] => Ok(only.clone()),
        [] => {
            Err(Fault::usage("whose playing is it?")
                .advise("give --player NAME, or put player = \"NAME\" in the settings"))
        }
        many => Err(Fault::usage("the journal has several players")
            .advise(format!("give --player, one of: {}", many.join(", ")))),
    }
}

/// Numbers of takes: "12,13,15-18".
pub(crate) fn numbers(text: &str) -> Outcome<Vec<i64>> {
    const MOST: usize = 1_000_000;
    take_numbers(text, MOST).ok_or_else(|| Fault::usage(format!("{text:?}: give numbers of takes as 12,13,15-18")))
}

/// Asks on a terminal; `None` where nobody can be asked.
pub(crate) fn ask(question: &str) -> Option<String> {
    if !(std::io::stdin().is_terminal() && std::io::stderr().is_terminal()) {
        return None;
    }
    let mut err = std::io::stderr().lock();
    write!(err, "{question} ").and_then(|()| err.flush()).ok()?;
    let mut answer = String::new();
    std::io::stdin().read_line(&mut answer).ok()?;
    Some(answer.trim().to_lowercase())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tempos_are_read() {
        assert_eq!(tempo("150-170").unwrap(), [150.0, 170.0]);
        assert!((tempo("100").unwrap()[0] - 96.0).abs() < 1e-9 && tempo("fast").is_err() && tempo("nan").is_err());
    }
}
