//! Questions that take several looks at the file: trend, comparison, plan. The journal fetches, the review room
//! computes.

use crate::error::{JournalError, Result};
use crate::journal::Journal;
use crate::model::{DrillRow, Filter, TakeRow};
use crate::when::Day;
use std::collections::BTreeMap;
use takegauge_drill::Drill;
use takegauge_review::declared::EVENNESS;
use takegauge_review::history::{
    CompareReport, GroupHistory, LIKE_TEMPO, Metric, PlanReport, Practised, Series, TakePoint, TrendReport,
    asked_about, came_apart, compare, compared, plan, trend, usual_tempo, what_changed,
};
use takegauge_review::{GroupKey, LadderReport, ladder, shows_hinges};

/// Of the chances simulated for a ladder, as where no seed is given.
const SEED: u64 = 1;

/// A tempo with what counts as like it.
pub fn like_tempo(tempo_bpm: f64) -> [f64; 2] {
    [tempo_bpm * (1.0 - LIKE_TEMPO), tempo_bpm * (1.0 + LIKE_TEMPO)]
}

/// What the text of a drill file asks to be played: [`Drill::played_toml`], or the text where it cannot be read.
pub(crate) fn played(toml: &str) -> String {
    Drill::parse(toml, "journal").map_or_else(|_| toml.to_owned(), |drill| drill.played_toml())
}

impl DrillRow {
    /// What it asks to be played, by which drills of other tempos, repeats, names or notes are one.
    pub fn line(&self) -> String {
        played(&self.toml)
    }
}

/// The line of each drill, by its [`DrillRow::short_id`].
pub fn lines_of(drills: &[DrillRow]) -> BTreeMap<&str, String> {
    drills.iter().map(|d| (d.short_id(), d.line())).collect()
}

/// Takes that were played at other tempos than the one followed.
fn left_out(which: &Filter, all: usize, kept: usize) -> Option<String> {
    let n = all.saturating_sub(kept);
    let (takes, are) = if n == 1 { ("take", "is") } else { ("takes", "are") };
    (which.tempo_bpm.is_none() && n > 0)
        .then(|| format!("{n} {takes} at other tempos {are} left out; `journal trend --tempo FROM-TO` chooses others."))
}

/// Which drill the takes of a filter are of.
#[derive(Debug, Clone, PartialEq)]
pub enum DrillAsked {
    /// No take passes.
    None,
    /// One, at whatever tempos and however often through: its name, and the rows of the journal that are it.
    One {
        /// Of the one that most takes are of.
        name: String,
        /// What [`Filter::drills`] takes.
        ids: Vec<i64>,
    },
    /// Several, and how many takes of each.
    Several(Vec<(DrillRow, usize)>),
}

impl Journal {
    /// The one drill that a question is about, where the takes of a filter are of one.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn drill_asked(&self, which: &Filter) -> Result<DrillAsked> {
        let there = self.drills_of(which)?;
        let Some((first, _)) = there.first() else { return Ok(DrillAsked::None) };
        if there.iter().any(|(d, _)| d.line() != first.line()) {
            return Ok(DrillAsked::Several(there));
        }
        let name = there.iter().max_by_key(|(_, n)| *n).map_or(&first.name, |(d, _)| &d.name).clone();
        Ok(DrillAsked::One { name, ids: there.iter().map(|(d, _)| d.id).collect() })
    }

    /// The trend of one figure of one group, the other figures after it; where neither is asked for, what changed most over
    /// all kinds and figures. `which` lets through one player's takes of one
    /// drill, called `player` and `drill` in the report; without a tempo in it the usual one is followed. Without a
    /// group it is the string changes, or all notes where the drill has none.
    ///
    /// # Errors
    /// [`JournalError::NoGroup`], [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn trend(
        &self,
        which: &Filter,
        (player, drill): (&str, &str),
        group: Option<&str>,
        question: Option<Metric>,
    ) -> Result<TrendReport> {
        let every_tempo = self.points(which, GroupKey::WholeTake)?;
        let like = Filter {
            tempo_bpm: which.tempo_bpm.or_else(|| usual_tempo(&every_tempo).map(like_tempo)),
            ..which.clone()
        };
        let whole = self.points(&like, GroupKey::WholeTake)?;
        let mut report = if group.is_none() && question.is_none() {
            let histories = self.histories(&like, asked_about)?;
            let mut report = what_changed(player, drill, like.tempo_bpm, &histories, &every_tempo);
            report.text.extend(self.ladders(&every_tempo)?);
            report
        } else {
            self.question(&like, (player, drill), group, question.unwrap_or(Metric::SPREAD), (&whole, &every_tempo))?
        };
        report.remarks.extend(left_out(which, every_tempo.len(), whole.len()));
        Ok(report)
    }

    /// What the first and the last of the days with a ladder say together: from which tempo a kind of note came apart.
    fn ladders(&self, takes: &[TakePoint]) -> Result<Option<String>> {
        let mut days: BTreeMap<i32, Vec<&TakePoint>> = BTreeMap::new();
        takes.iter().for_each(|p| days.entry(p.day).or_default().push(p));
        days.retain(|_, takes| shows_hinges(takes.iter().map(|p| p.tempo_bpm)));
        let ladder_of = |takes: &[&TakePoint]| -> Result<Option<LadderReport>> {
            let reports = takes.iter().map(|p| self.take(p.take).map(|(_, _, report)| report));
            Ok(ladder(&reports.collect::<Result<Vec<_>>>()?, SEED).ok())
        };
        let (Some((first, then)), Some((last, now))) = (days.first_key_value(), days.last_key_value()) else {
            return Ok(None);
        };
        if first == last {
            return Ok(None);
        }
        let told = ladder_of(then)?.zip(ladder_of(now)?);
        Ok(told.and_then(|(a, b)| came_apart((&then[0].date, &a), (&now[0].date, &b))))
    }

    /// The figures of each group that is `wanted`, in the takes that `like` lets through.
    fn histories(&self, like: &Filter, wanted: impl Fn(GroupKey) -> bool) -> Result<Vec<GroupHistory>> {
        let groups = self.groups(like)?.into_iter().filter(|(group, _)| wanted(*group));
        groups.map(|(group, label)| Ok(GroupHistory { group, label, points: self.points(like, group)? })).collect()
    }

    /// The trend of one figure of one group, the other figures after it. `whole` and `every_tempo` are the whole takes of
    /// the filter, and at any tempo.
    fn question(
        &self,
        like: &Filter,
        (player, drill): (&str, &str),
        group: Option<&str>,
        question: Metric,
        (whole, every_tempo): (&[TakePoint], &[TakePoint]),
    ) -> Result<TrendReport> {
        let groups = self.groups(like)?;
        let label = |key: GroupKey| groups.iter().find(|(k, _)| *k == key).map(|(_, label)| label.as_str());
        let group = match group {
            Some(asked) => match asked.parse().ok().filter(|key| label(*key).is_some()) {
                Some(key) => key,
                None => {
                    let known = groups.iter().filter(|(k, _)| k.is_lasting()).map(|(k, _)| k.to_string()).collect();
                    return Err(JournalError::NoGroup { group: asked.to_owned(), known });
                }
            },
            None if label(GroupKey::Change).is_some() => GroupKey::Change,
            None => GroupKey::WholeTake,
        };
        let of_group = self.points(like, group)?;
        // Evenness needs neighbouring notes of all kinds: few groups have one of their own.
        let evenness = Metric::Figure(&EVENNESS);
        let even = of_group.iter().any(|p| evenness.value(p).is_some());
        let metrics = std::iter::once(question).chain(Metric::all().into_iter().filter(|m| *m != question));
        let series: Vec<Series<'_>> = metrics
            .filter_map(|metric| {
                let (group, label, points): (GroupKey, &str, &[TakePoint]) = match metric {
                    // The tempo without an error is the take's, at whatever tempo it was played.
                    Metric::CleanTempo => (GroupKey::WholeTake, "all takes, at any tempo", every_tempo),
                    metric if metric == evenness && !even => (GroupKey::WholeTake, "all notes", whole),
                    _ => (group, label(group).unwrap_or_default(), &of_group),
                };
                let there = metric == question || points.iter().any(|p| metric.value(p).is_some());
                there.then_some(Series { group, label, metric, points })
            })
            .collect();
        Ok(trend(player, drill, like.tempo_bpm, &series))
    }

    /// Two sets of takes of one drill by one player, held against all such takes at like tempo.
    ///
    /// # Errors
    /// [`JournalError::NoTake`], [`JournalError::NotComparable`], [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn compare(&self, first: &[i64], second: &[i64]) -> Result<CompareReport> {
        if let Some(both) = first.iter().find(|id| second.contains(id)) {
            return Err(JournalError::NotComparable(format!("take {both} is in both sets")));
        }
        let sets: Vec<i64> = first.iter().chain(second).copied().collect();
        let rows = self.list(&Filter { takes: Some(sets.clone()), ..Filter::default() })?;
        if let Some(missing) = sets.iter().find(|id| rows.iter().all(|r| r.take != **id)) {
            return Err(JournalError::NoTake(*missing));
        }
        let one = rows.first().ok_or_else(|| JournalError::NotComparable("both sets are empty".to_owned()))?;
        let other = |r: &&TakeRow| r.player != one.player || r.drill_id != one.drill_id;
        if let Some(r) = rows.iter().find(other) {
            return Err(JournalError::NotComparable(format!(
                "take {} is {} of {}, take {} is {} of {}: only takes of one drill by one player can be compared",
                one.take, one.drill, one.player, r.take, r.drill, r.player
            )));
        }
        let low = rows.iter().map(|r| r.tempo_bpm).fold(f64::INFINITY, f64::min);
        let high = rows.iter().map(|r| r.tempo_bpm).fold(0.0, f64::max);
        let drills = self.drills()?.into_iter().filter(|d| d.hash.starts_with(&one.drill_id)).map(|d| d.id).collect();
        let like = Filter {
            player: Some(one.player.clone()),
            drills: Some(drills),
            tempo_bpm: Some([like_tempo(low)[0], like_tempo(high)[1]]),
            ..Filter::default()
        };
        Ok(compare(first, second, &self.histories(&like, compared)?))
    }

    /// What is due, what has stalled, what may go up, as of `today`; takes of later days do not count.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn plan(&self, which: &Filter, today: Day) -> Result<PlanReport> {
        let known = self.drills()?;
        let lines = lines_of(&known);
        let mut drills: BTreeMap<(String, String), (String, Vec<i64>)> = BTreeMap::new();
        let (rows, later): (Vec<_>, Vec<_>) = self.list(which)?.into_iter().partition(|r| r.day <= today);
        for row in rows {
            let line = lines.get(row.drill_id.as_str()).cloned().unwrap_or(row.drill_id);
            let (name, takes) = drills.entry((row.player, line)).or_default();
            *name = row.drill;
            takes.push(row.take);
        }
        let mut practised = Vec::new();
        for ((player, _), (drill, takes)) in drills {
            let these = Filter { takes: Some(takes), ..Filter::default() };
            let mut points = self.points(&these, GroupKey::Change)?;
            if points.is_empty() {
                points = self.points(&these, GroupKey::WholeTake)?;
            }
            let kinds = self.histories(&these, |g| matches!(g, GroupKey::Kind(_)))?;
            practised.push(Practised { player, drill, points, kinds });
        }
        let mut report = plan(&practised, &self.set_tasks(which)?, today.0, &today.to_string());
        if !later.is_empty() {
            let (takes, are) = if later.len() == 1 { ("take", "is") } else { ("takes", "are") };
            report.cautions.push(format!(
                "{} {takes} {are} dated after {today} and left out: was the recorder's clock right?",
                later.len()
            ));
        }
        Ok(report)
    }
}

/// Numbers of takes, "12, 13, 15-18", at most `most` of them; `None` where the text is something else.
pub fn take_numbers(text: &str, most: usize) -> Option<Vec<i64>> {
    let number = |t: &str| t.trim().parse::<i64>().ok().filter(|n| *n > 0);
    let mut all = Vec::new();
    for part in text.split(',').map(str::trim).filter(|p| !p.is_empty()) {
        let (a, b) = match part.split_once('-') {
            Some((a, b)) => (number(a)?, number(b)?),
            None => (number(part)?, number(part)?),
        };
        if b < a || usize::try_from(b - a).map_or(true, |n| n >= most) {
            return None;
        }
        all.extend(a..=b);
        if all.len() > most {
            return None;
        }
    }
    (!all.is_empty()).then_some(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_takes_are_read_and_nonsense_is_refused() {
        assert_eq!(take_numbers("12, 13,15-18", 6), Some(vec![12, 13, 15, 16, 17, 18]));
        for bad in ["", "x", "0", "-4", "5-2", "1-7", "1-4,5-7", "1-100000000", "9223372036854775807-1", "../1"] {
            assert_eq!(take_numbers(bad, 6), None, "{bad}");
        }
    }
}
