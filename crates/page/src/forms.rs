//! What the forms of the pages ask, what their lists offer, and the texts that they bring.

use crate::trouble::Trouble;
use serde::Deserialize;
use takegauge_journal::{Day, DrillRow, Filter, Journal, TakeRow};
use takegauge_review::GroupKey;
use takegauge_review::history::Metric;

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
    pub(crate) fn metric(&self) -> Metric {
        Metric::named(&self.figure).unwrap_or(Metric::SPREAD)
    }

    pub(crate) fn drill(&self) -> Result<Option<i64>, Trouble> {
        let unknown = |_| Trouble::NotFound("The journal has no such drill.".into());
        if self.drill.is_empty() { Ok(None) } else { self.drill.parse().map(Some).map_err(unknown) }
    }

    /// Fills in the only player and the drill of the latest take, where nothing was chosen.
    pub(crate) fn complete(&mut self, j: &Journal, player: Option<&str>) -> Result<HistoryOffer, Trouble> {
        let (players, drills) = (j.players()?, j.drills()?);
        if self.player.is_empty() {
            let usual = player.filter(|p| players.iter().any(|q| q == p)).map(str::to_owned);
            self.player = usual.or_else(|| players.first().cloned()).unwrap_or_default();
        }
        let of_player = Filter { player: Some(self.player.clone()), ..Filter::default() };
        if self.drill()?.is_none()
            && let Some(last) = j.list(&of_player)?.last()
            && let Some(drill) = drills.iter().find(|d| d.hash.starts_with(&last.drill_id))
        {
            self.drill = drill.id.to_string();
        }
        if self.group.is_empty() {
            self.group = GroupKey::Change.to_string();
        }
        let which = Filter { drills: self.drill()?.map(|d| vec![d]), ..of_player };
        let groups = j.groups(&which)?.into_iter().filter(|(g, _)| g.is_lasting());
        Ok(HistoryOffer { groups: groups.map(|(g, label)| (g.to_string(), label)).collect(), players, drills })
    }
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

/// What the lists of that form offer.
pub(crate) struct TakesOffer {
    pub(crate) players: Vec<String>,
    pub(crate) drills: Vec<DrillRow>,
    pub(crate) rows: Vec<TakeRow>,
    pub(crate) on_shelf: usize,
}

/// The takes of the form.
pub(crate) fn filter(wanted: &Wanted) -> Result<Filter, Trouble> {
    let text = |t: &str| (!t.trim().is_empty()).then(|| t.trim().to_owned());
    let day = |t: &str| text(t).map(|t| t.parse::<Day>().map_err(Trouble::Wrong)).transpose();
    let drill = |t: String| t.parse::<i64>().map_err(|_| Trouble::NotFound("The journal has no such drill.".into()));
    Ok(Filter {
        player: text(&wanted.player),
        drills: text(&wanted.drill).map(drill).transpose()?.map(|d| vec![d]),
        since: day(&wanted.since)?,
        until: day(&wanted.until)?,
        tag: text(&wanted.tag),
        ..Filter::default()
    })
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
