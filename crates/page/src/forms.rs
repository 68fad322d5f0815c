//! What the forms of the pages ask, what their lists offer, and the texts that they bring.

use crate::ask::Whose;
use crate::trouble::Trouble;
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use takegauge_journal::{Day, DrillRow, Filter, Journal, Picked, RecordedAt, TakeRow, lines_of, player_key};
use takegauge_review::history::{Metric, TaskState};

/// Takes on one page of the list.
pub(crate) const ON_A_PAGE: usize = 100;
/// Characters of a note, and of all tags together.
const NOTE: usize = 4000;
const TAGS: usize = 500;

/// What a question about weeks of practice is about.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Asked {
    pub(crate) player: String,
    pub(crate) drill: String,
    pub(crate) group: String,
    pub(crate) figure: String,
    pub(crate) tempo: String,
    pub(crate) first: String,
    pub(crate) second: String,
}

/// What the lists of such a form offer.
pub(crate) struct HistoryOffer {
    pub(crate) players: Vec<String>,
    pub(crate) drills: Vec<DrillRow>,
    /// Names and labels of the groups of the chosen takes.
    pub(crate) groups: Vec<(String, String)>,
}

impl Asked {
    /// The figure asked for; none is what changed most.
    pub(crate) fn metric(&self) -> Option<Metric> {
        Metric::named(&self.figure)
    }

    /// The tempo asked for; none is the one most played.
    pub(crate) fn tempo(&self) -> Option<f64> {
        self.tempo.trim().parse().ok().filter(|t: &f64| (20.0..=400.0).contains(t))
    }

    pub(crate) fn drill(&self) -> Result<Option<i64>, Trouble> {
        if self.drill.is_empty() { Ok(None) } else { drill_row(&self.drill).map(Some) }
    }

    /// Fills in the only player and the drill with the most practice days, where nothing was chosen.
    pub(crate) fn complete(&mut self, j: &Journal, player: Option<&str>) -> Result<HistoryOffer, Trouble> {
        let (players, drills) = (j.players()?, j.drills()?);
        if self.player.is_empty() {
            let of_settings = |q: &&String| player.is_some_and(|p| player_key(p) == player_key(q));
            self.player =
                players.iter().find(of_settings).cloned().or_else(|| players.first().cloned()).unwrap_or_default();
        } else {
            self.player = j.player_name(&self.player)?;
        }
        let of_player = Filter { player: Some(self.player.clone()), ..Filter::default() };
        if self.drill()?.is_none()
            && let Some(most) = most_practised(&j.list(&of_player)?, &drills)
            && let Some(drill) = drills.iter().find(|d| d.hash.starts_with(&most))
        {
            self.drill = drill.id.to_string();
        }
        let which = match self.drill()? {
            Some(drill) => Whose { player: &self.player, drill }.filter(&drills),
            None => of_player,
        };
        let groups = j.groups(&which)?.into_iter().filter(|(g, _)| g.is_lasting());
        Ok(HistoryOffer { groups: groups.map(|(g, label)| (g.to_string(), label)).collect(), players, drills })
    }
}

fn drill_row(text: &str) -> Result<i64, Trouble> {
    text.parse().map_err(|_| Trouble::NotFound("The journal has no such drill.".into()))
}

/// The drill with the most practice days, at whatever tempos; of equals the one played last. As it was played last.
fn most_practised(rows: &[TakeRow], drills: &[DrillRow]) -> Option<String> {
    let lines = lines_of(drills);
    let mut played: BTreeMap<&str, (BTreeSet<Day>, &str)> = BTreeMap::new();
    // Rows come in the order recorded.
    for r in rows {
        let line = lines.get(r.drill_id.as_str()).map_or(r.drill_id.as_str(), String::as_str);
        let of_line = played.entry(line).or_default();
        of_line.0.insert(r.day);
        of_line.1 = &r.drill_id;
    }
    let most = played.into_values().max_by_key(|(days, _)| (days.len(), days.last().copied()))?;
    Some(most.1.to_owned())
}

/// Which takes, as the form has it: empty fields let everything through.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Wanted {
    pub(crate) player: String,
    pub(crate) drill: String,
    pub(crate) tag: String,
    pub(crate) since: String,
    pub(crate) until: String,
    pub(crate) page: usize,
}

/// Takes that are ticked in their list, to be compared: each a set.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Ticked {
    pub(crate) a: Vec<i64>,
    pub(crate) b: Vec<i64>,
}

impl Ticked {
    /// From an address that may hold `a` and `b` again and again.
    pub(crate) fn read(query: Option<&str>) -> Result<Self, Trouble> {
        let mut ticked = Self::default();
        for (name, value) in form_urlencoded::parse(query.unwrap_or_default().as_bytes()) {
            let set = match name.as_ref() {
                "a" => &mut ticked.a,
                "b" => &mut ticked.b,
                _ => continue,
            };
            let take = value.parse().map_err(|_| Trouble::Wrong("A tick names a take by its number.".into()))?;
            if !set.contains(&take) {
                set.push(take);
            }
            if set.len() > crate::ask::TAKES {
                let most = crate::ask::TAKES;
                return Err(Trouble::Wrong(format!("A set may hold {most} takes; more are ticked.")));
            }
        }
        Ok(ticked)
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.a.is_empty() && self.b.is_empty()
    }

    /// The takes of both sets.
    pub(crate) fn all(&self) -> Vec<i64> {
        self.a.iter().chain(&self.b).copied().collect()
    }

    /// The two sets. Two takes in one column alone are one of each, the earlier one first; `recorded` is the order.
    pub(crate) fn sets(self, recorded: &[i64]) -> Result<(Vec<i64>, Vec<i64>), Trouble> {
        let two = if self.b.is_empty() { &self.a } else { &self.b };
        if (self.a.is_empty() || self.b.is_empty()) && two.len() == 2 {
            let place = |take: &i64| recorded.iter().position(|r| r == take);
            let mut two = two.clone();
            two.sort_by_key(place);
            return Ok((two[..1].to_vec(), two[1..].to_vec()));
        }
        if self.a.is_empty() || self.b.is_empty() {
            let hint = "Tick takes in both columns, A and B; or two takes alone, in one column.";
            return Err(Trouble::Wrong(hint.into()));
        }
        Ok((self.a, self.b))
    }
}

/// What the lists of that form offer.
pub(crate) struct TakesOffer {
    pub(crate) players: Vec<String>,
    pub(crate) drills: Vec<DrillRow>,
    pub(crate) rows: Vec<TakeRow>,
    pub(crate) on_shelf: usize,
    /// To be compared; those that the list does not show included.
    pub(crate) ticked: Ticked,
}

/// The takes of the form.
pub(crate) fn filter(wanted: &Wanted) -> Result<Filter, Trouble> {
    let text = |t: &str| (!t.trim().is_empty()).then(|| t.trim().to_owned());
    let day = |t: &str| text(t).map(|t| t.parse::<Day>().map_err(Trouble::Wrong)).transpose();
    Ok(Filter {
        player: text(&wanted.player),
        drills: text(&wanted.drill).map(|t| drill_row(&t)).transpose()?.map(|d| vec![d]),
        since: day(&wanted.since)?,
        until: day(&wanted.until)?,
        tag: text(&wanted.tag),
        ..Filter::default()
    })
}

/// A player in the list of all.
pub(crate) struct Roster {
    pub(crate) player: String,
    pub(crate) takes: usize,
    pub(crate) drills: usize,
    /// Day and drill of the last take.
    pub(crate) last: Option<(Day, String)>,
    /// Tasks that are not done.
    pub(crate) tasks: usize,
    pub(crate) overdue: usize,
}

/// All players with takes or tasks, by name.
pub(crate) fn roster(j: &Journal, today: Day) -> Result<Vec<Roster>, Trouble> {
    let (rows, tasks) = (j.list(&Filter::default())?, j.task_lines(None, today)?);
    let of = |player: String| {
        let takes: Vec<&TakeRow> = rows.iter().filter(|r| r.player == player).collect();
        let drills: BTreeSet<&str> = takes.iter().map(|r| r.drill_id.as_str()).collect();
        let open = || tasks.iter().filter(|t| t.player == player && t.done.is_none());
        Roster {
            takes: takes.len(),
            drills: drills.len(),
            last: takes.last().map(|r| (r.day, r.drill.clone())),
            tasks: open().count(),
            overdue: open().filter(|t| t.state == TaskState::Overdue).count(),
            player,
        }
    };
    Ok(j.players_and_students()?.into_iter().map(of).collect())
}

/// Whose page is asked for, and what its form of a new task begins with.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub(crate) struct TaskAsked {
    pub(crate) name: String,
    pub(crate) words: String,
    pub(crate) drill: String,
    pub(crate) tempo: String,
    pub(crate) due: String,
}

/// Which of several tries, as forms send it.
pub(crate) fn picked(text: &str) -> Picked {
    match text {
        "all" => Picked::All,
        "best" => Picked::Best,
        _ => Picked::Unknown,
    }
}

/// A time as forms have it, to the minute.
pub(crate) fn form_time(at: RecordedAt) -> String {
    at.to_the_minute().replace(' ', "T")
}

/// A time that a form says, on the clock of the time that stood in it before; that time, seconds and all, where nothing else
/// is said.
pub(crate) fn when(text: Option<&str>, before: RecordedAt) -> Result<RecordedAt, Trouble> {
    match text.map(str::trim) {
        None | Some("") => Ok(before),
        Some(text) if text == form_time(before) => Ok(before),
        Some(text) => before.mended(text).map_err(|e| Trouble::Wrong(format!("When it was recorded: {e}."))),
    }
}

/// A text as one line of at most `most` characters, without control characters.
pub(crate) fn one_line(text: &str, most: usize) -> String {
    text.chars().filter(|c| !c.is_control()).take(most).collect::<String>().trim().to_owned()
}

/// Tags as typed: words between commas.
pub(crate) fn tags(text: &str) -> Vec<String> {
    let all: String = text.chars().take(TAGS).collect();
    let mut tags: Vec<String> = all.split(',').map(|t| one_line(t, 60)).filter(|t| !t.is_empty()).collect();
    tags.sort();
    tags.dedup();
    tags
}

/// A note as typed, without control characters.
pub(crate) fn note(text: &str) -> String {
    text.chars().filter(|c| !c.is_control() || *c == '\n').take(NOTE).collect::<String>().trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_two_sets_or_two_takes() {
        let sets = |query: &str| Ticked::read(Some(query)).unwrap().sets(&[7, 3, 9]);
        assert_eq!(sets("player=Ada&a=3&a=7&b=9&a=3").unwrap(), (vec![3, 7], vec![9]));
        // In one column: the earlier one is the first.
        assert_eq!(sets("b=3&b=7").unwrap(), (vec![7], vec![3]));
        for query in ["a=3", "b=1&b=2&b=3", ""] {
            assert!(matches!(sets(query), Err(Trouble::Wrong(_))), "{query}");
        }
        assert!(Ticked::read(Some("a=x")).is_err());
        let many: String = (0..=crate::ask::TAKES).map(|k| format!("a={k}&")).collect();
        assert!(Ticked::read(Some(&many)).is_err());
        assert!(Ticked::read(None).unwrap().is_empty());
    }
}
