//! What the journal's commands are asked: filters, players, numbers of takes.

use super::told::fault;
use crate::args::FilterArgs;
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use std::io::{IsTerminal, Write};
use std::path::Path;
use takegauge_journal::{Day, Filter, Journal, like_tempo, take_numbers};

/// What the filter options let through.
pub(super) fn filter(args: &FilterArgs, journal: &Journal) -> Outcome<Filter> {
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
        None => number(text).map(like_tempo),
    }
}

/// The journal's drills that a name, a file or the start of an id stands for.
fn drills(named: &Path, journal: &Journal) -> Outcome<Vec<i64>> {
    let wrong = |e| fault(e, journal.path());
    let ids = journal.drills_called(named).map_err(wrong)?;
    if ids.is_empty() {
        let (text, known) = (named.to_string_lossy(), journal.drills().map_err(wrong)?);
        let names: Vec<&str> = known.iter().map(|d| d.name.as_str()).collect();
        return Err(Fault::usage(format!("the journal has no drill {text:?}"))
            .advise(format!("it has: {}", if names.is_empty() { "none yet".to_owned() } else { names.join(", ") })));
    }
    Ok(ids)
}

/// The one player that a question is about: the filter's, the settings', or the only one there is.
pub(super) fn one_player(given: Option<&str>, config: &Config, journal: &Journal) -> Outcome<String> {
    if let Some(player) = given.or(config.player.as_deref()) {
        return journal.player_name(player).map_err(|e| fault(e, journal.path()));
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
pub(super) fn numbers(text: &str) -> Outcome<Vec<i64>> {
    const MOST: usize = 1_000_000;
    take_numbers(text, MOST).ok_or_else(|| Fault::usage(format!("{text:?}: give numbers of takes as 12,13,15-18")))
}

/// Asks on a terminal; `None` where nobody can be asked.
pub(super) fn ask(question: &str) -> Option<String> {
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
