//! `journal player`: one player at a glance.

use super::asked::one_player;
use super::told::fault;
use crate::args::PlayerArgs;
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use crate::output::{self, text_style};
use takegauge_journal::{Day, Journal, player_key};
use takegauge_report::{json, player_text};

pub(crate) fn run(args: &PlayerArgs, config: &Config, journal: &Journal) -> Outcome {
    let wrong = |e| fault(e, journal.path());
    let player = one_player(args.player.as_deref(), config, journal)?;
    let known = journal.players_and_students().map_err(wrong)?;
    if known.iter().all(|k| player_key(k) != player_key(&player)) {
        let names = if known.is_empty() { "nobody yet".to_owned() } else { known.join(", ") };
        return Err(
            Fault::usage(format!("the journal knows no player {player:?}")).advise(format!("it knows: {names}"))
        );
    }
    let report = journal.player(&player, args.today.unwrap_or_else(Day::today)).map_err(wrong)?;
    match &args.json {
        Some(path) => output::write(path, json(&report).as_bytes()),
        None => output::print(&player_text(&report, text_style())),
    }
}
