//! Questions to the journal that need more than one look: trend, ladder, comparison, plan. The journal fetches, the
//! review room computes.

use crate::trouble::Trouble;
use std::collections::BTreeMap;
use takegauge_journal::{CHANGES, Day, Filter, Journal, TakeRow};
use takegauge_review::history::{
    CompareReport, GroupHistory, LIKE_TEMPO, Metric, PlanReport, Practised, Series, TakePoint, TrendReport, WHOLE_TAKE,
    compare, plan, trend, usual_tempo,
};
use takegauge_review::{LadderReport, ladder};

/// Takes that one ladder or comparison may hold.
const TAKES: usize = 200;
/// Takes of a ladder: each is read whole.
const LADDER_TAKES: usize = 60;
/// Seed of the ladder's shuffles, the command line's own default.
const SEED: u64 = 1;

/// One player's takes of one drill.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Whose<'a> {
    pub(crate) player: &'a str,
    /// The drill's row in the journal.
    pub(crate) drill: i64,
}

impl Whose<'_> {
    fn filter(self) -> Filter {
        Filter { player: Some(self.player.to_owned()), drills: Some(vec![self.drill]), ..Filter::default() }
    }

    fn drill_name(self, journal: &Journal) -> Result<String, Trouble> {
        let found = journal.drills()?.into_iter().find(|d| d.id == self.drill);
        Ok(found.ok_or_else(|| Trouble::NotFound("The journal has no such drill.".into()))?.name)
    }
}

/// The trend of one figure of one group at the usual tempo, the other figures after it.
pub(crate) fn trend_of(
    journal: &Journal,
    whose: Whose<'_>,
    group: &str,
    question: Metric,
) -> Result<TrendReport, Trouble> {
    let name = whose.drill_name(journal)?;
    let mut which = whose.filter();
    let every_tempo = journal.points(&which, WHOLE_TAKE)?;
    which.tempo_bpm = usual_tempo(&every_tempo).map(|t| [t * (1.0 - LIKE_TEMPO), t * (1.0 + LIKE_TEMPO)]);
    let groups = journal.groups(&which)?;
    let label = |name: &str| groups.iter().find(|(n, ..)| n == name).map(|(_, label, _)| label.as_str());
    let group = if label(group).is_some() { group } else { WHOLE_TAKE };
    let of_group = journal.points(&which, group)?;
    let whole = journal.points(&which, WHOLE_TAKE)?;
    let metrics = std::iter::once(question).chain(Metric::ALL.into_iter().filter(|m| *m != question));
    let series: Vec<Series<'_>> = metrics
        .filter_map(|metric| {
            let (name, label, points): (&str, &str, &[TakePoint]) = match metric {
                // The tempo without an error is the take's, at whatever tempo it was played.
                Metric::CleanTempo => (WHOLE_TAKE, "all takes, at any tempo", &every_tempo),
                // Evenness needs neighbouring notes of all kinds.
                Metric::Evenness if of_group.iter().all(|p| p.figures.evenness_ms.is_none()) => {
                    (WHOLE_TAKE, "all notes", &whole)
                }
                _ => (group, label(group).unwrap_or(group), &of_group),
            };
            let there = metric == question || points.iter().any(|p| metric.value(p).is_some());
            there.then_some(Series { group: name, label, metric, points })
        })
        .collect();
    Ok(trend(whose.player, &name, which.tempo_bpm, &series))
}

/// The ladder of the latest takes.
pub(crate) fn ladder_of(journal: &Journal, whose: Whose<'_>) -> Result<LadderReport, Trouble> {
    whose.drill_name(journal)?;
    let rows = journal.list(&whose.filter())?;
    let latest = rows.iter().skip(rows.len().saturating_sub(LADDER_TAKES));
    let reports = latest.map(|r| Ok(journal.take(r.take)?.2)).collect::<Result<Vec<_>, Trouble>>()?;
    ladder(&reports, SEED).map_err(|e| Trouble::Wrong(format!("No ladder: {e}.")))
}

/// Two sets of takes of one drill by one player, held against that player's other takes at like tempo.
pub(crate) fn compare_of(journal: &Journal, first: &[i64], second: &[i64]) -> Result<CompareReport, Trouble> {
    let wrong = |text: String| Err(Trouble::Wrong(text));
    if let Some(both) = first.iter().find(|id| second.contains(id)) {
        return wrong(format!("Take {both} is in both sets."));
    }
    let sets: Vec<i64> = first.iter().chain(second).copied().collect();
    let rows = journal.list(&Filter { takes: Some(sets.clone()), ..Filter::default() })?;
    if let Some(missing) = sets.iter().find(|id| rows.iter().all(|r| r.take != **id)) {
        return Err(Trouble::NotFound(format!("The journal holds no take {missing}.")));
    }
    let Some(one) = rows.first() else { return wrong("Name takes for both sets.".into()) };
    let other = |r: &&TakeRow| r.player != one.player || r.drill_id != one.drill_id;
    if let Some(r) = rows.iter().find(other) {
        return wrong(format!(
            "Take {} is {} of {}, take {} is {} of {}: only takes of one drill by one player can be compared.",
            one.take, one.drill, one.player, r.take, r.drill, r.player
        ));
    }
    let low = rows.iter().map(|r| r.tempo_bpm).fold(f64::INFINITY, f64::min);
    let high = rows.iter().map(|r| r.tempo_bpm).fold(0.0, f64::max);
    let drills = journal.drills()?.into_iter().filter(|d| d.hash.starts_with(&one.drill_id)).map(|d| d.id).collect();
    let like = Filter {
        player: Some(one.player.clone()),
        drills: Some(drills),
        tempo_bpm: Some([low * (1.0 - LIKE_TEMPO), high * (1.0 + LIKE_TEMPO)]),
        ..Filter::default()
    };
    let mut groups = Vec::new();
    // The repeats are places in time, not kinds of note.
    for (group, label, _) in journal.groups(&like)?.into_iter().filter(|(g, ..)| !g.starts_with("repeat ")) {
        let points = journal.points(&like, &group)?;
        groups.push(GroupHistory { group, label, points });
    }
    Ok(compare(first, second, &groups))
}

/// What is due, what has stalled, what may go up, for one player or all.
pub(crate) fn plan_of(journal: &Journal, player: Option<String>) -> Result<PlanReport, Trouble> {
    let today = Day::today();
    let mut drills: BTreeMap<(String, String), (String, Vec<i64>)> = BTreeMap::new();
    let which = Filter { player, ..Filter::default() };
    for row in journal.list(&which)?.into_iter().filter(|r| r.day <= today) {
        let (name, takes) = drills.entry((row.player, row.drill_id)).or_default();
        *name = row.drill;
        takes.push(row.take);
    }
    let mut practised = Vec::new();
    for ((player, _), (drill, takes)) in drills {
        let these = Filter { takes: Some(takes), ..Filter::default() };
        let mut points = journal.points(&these, CHANGES)?;
        if points.is_empty() {
            points = journal.points(&these, WHOLE_TAKE)?;
        }
        practised.push(Practised { player, drill, points });
    }
    Ok(plan(&practised, today.0, &today.to_string()))
}

/// Numbers of takes: "12, 13, 15-18".
pub(crate) fn numbers(text: &str) -> Result<Vec<i64>, Trouble> {
    let wrong = || Trouble::Wrong(format!("Give up to {TAKES} numbers of takes, as 12, 13, 15-18."));
    let number = |t: &str| t.trim().parse::<i64>().ok().filter(|n| *n > 0).ok_or_else(wrong);
    let mut all: Vec<i64> = Vec::new();
    for part in text.split(',').map(str::trim).filter(|p| !p.is_empty()) {
        let (a, b) = part
            .split_once('-')
            .map_or_else(|| Ok((number(part)?, number(part)?)), |(a, b)| Ok::<_, Trouble>((number(a)?, number(b)?)))?;
        if b < a || b - a >= TAKES as i64 || all.len() >= TAKES {
            return Err(wrong());
        }
        all.extend(a..=b);
    }
    if all.is_empty() || all.len() > TAKES { Err(wrong()) } else { Ok(all) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_takes_are_read_and_nonsense_is_refused() {
        assert_eq!(numbers("12, 13,15-18").unwrap(), [12, 13, 15, 16, 17, 18]);
        for bad in ["", "x", "0", "-4", "5-2", "1-100000000", "9223372036854775807-1", "../1"] {
            assert!(numbers(bad).is_err(), "{bad}");
        }
    }
}
