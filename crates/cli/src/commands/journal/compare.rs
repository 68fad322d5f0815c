//! `journal compare`: two takes or two sets of takes.

use super::{fault, numbers};
use crate::args::CompareArgs;
use crate::commands::score::text_style;
use crate::fault::{Fault, Outcome};
use crate::output;
use takegauge_journal::{Filter, Journal};
use takegauge_report::{compare_text, json};
use takegauge_review::history::{GroupHistory, LIKE_TEMPO, compare};

pub(crate) fn run(args: &CompareArgs, journal: &Journal) -> Outcome {
    let wrong = |e| fault(e, journal.path());
    let (first, second) = (set(&args.first, journal)?, set(&args.second, journal)?);
    if let Some(both) = first.iter().find(|id| second.contains(id)) {
        return Err(Fault::usage(format!("take {both} is in both sets")));
    }
    let sets: Vec<i64> = first.iter().chain(&second).copied().collect();
    let rows = journal.list(&Filter { takes: Some(sets.clone()), ..Filter::default() }).map_err(wrong)?;
    if let Some(missing) = sets.iter().find(|id| rows.iter().all(|r| r.take != **id)) {
        return Err(Fault::usage(format!("the journal holds no take {missing}")));
    }
    let (player, drill_id) = (rows[0].player.clone(), rows[0].drill_id.clone());
    if let Some(other) = rows.iter().find(|r| r.player != player || r.drill_id != drill_id) {
        return Err(Fault::usage(format!(
            "take {} is {} of {}, take {} is {} of {}: only takes of one drill by one player can be compared",
            rows[0].take, rows[0].drill, player, other.take, other.drill, other.player
        )));
    }
    let drills = journal.drills().map_err(wrong)?;
    let low = rows.iter().map(|r| r.tempo_bpm).fold(f64::INFINITY, f64::min);
    let high = rows.iter().map(|r| r.tempo_bpm).fold(0.0, f64::max);
    let like = Filter {
        player: Some(player),
        drills: Some(drills.iter().filter(|d| d.hash.starts_with(&drill_id)).map(|d| d.id).collect()),
        tempo_bpm: Some([low * (1.0 - LIKE_TEMPO), high * (1.0 + LIKE_TEMPO)]),
        ..Filter::default()
    };
    let mut groups = Vec::new();
    for (group, label, _) in journal.groups(&like).map_err(wrong)? {
        // The repeats are places in time, not kinds of note.
        if !group.starts_with("repeat ") {
            let points = journal.points(&like, &group).map_err(wrong)?;
            groups.push(GroupHistory { group, label, points });
        }
    }
    let report = compare(&first, &second, &groups);
    match &args.json {
        Some(path) => output::write(path, json(&report).as_bytes()),
        None => output::print(&compare_text(&report, text_style())),
    }
}

/// "12", "12,13,15-18" or "tag:WORD".
fn set(text: &str, journal: &Journal) -> Outcome<Vec<i64>> {
    let Some(tag) = text.strip_prefix("tag:") else { return numbers(text) };
    let filter = Filter { tag: Some(tag.to_owned()), ..Filter::default() };
    let ids: Vec<i64> = journal.list(&filter).map_err(|e| fault(e, journal.path()))?.iter().map(|r| r.take).collect();
    if ids.is_empty() { Err(Fault::usage(format!("no take has the tag {tag:?}"))) } else { Ok(ids) }
}
