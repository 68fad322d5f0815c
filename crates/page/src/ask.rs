//! What the pages ask the journal: one player's takes of one drill.

use crate::trouble::Trouble;
use takegauge_journal::{DrillRow, Filter, Journal, take_numbers};
use takegauge_review::history::{LIKE_TEMPO, Metric, TrendReport};
use takegauge_review::{LadderReport, ladder};

/// Takes that one comparison may hold.
pub(crate) const TAKES: usize = 200;
/// Takes of a ladder: each is read whole.
const LADDER_TAKES: usize = 60;
/// Seed of the ladder's shuffles, the command line's own default.
const SEED: u64 = 1;

/// One player's takes of one drill.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Whose<'a> {
    pub(crate) player: &'a str,
    /// The drill's row in the journal; its like, which differ in tempo or repeats alone, count with it.
    pub(crate) drill: i64,
}

impl Whose<'_> {
    pub(crate) fn filter(self, drills: &[DrillRow]) -> Filter {
        let drills = Some(like(drills, self.drill));
        Filter { player: Some(self.player.to_owned()), drills, ..Filter::default() }
    }

    fn drill_name(self, journal: &Journal) -> Result<String, Trouble> {
        let found = journal.drills()?.into_iter().find(|d| d.id == self.drill);
        Ok(found.ok_or_else(|| Trouble::NotFound("The journal has no such drill.".into()))?.name)
    }
}

/// The rows of the journal that are one drill, at whatever tempos and however often through.
pub(crate) fn like(drills: &[DrillRow], drill: i64) -> Vec<i64> {
    let line = drills.iter().find(|d| d.id == drill).map(DrillRow::line);
    let mut like: Vec<i64> = drills.iter().filter(|d| Some(d.line()) == line).map(|d| d.id).collect();
    if like.is_empty() {
        like.push(drill);
    }
    like
}

/// The trend of one figure of one group at the usual tempo, the other figures after it.
pub(crate) fn trend_of(
    journal: &Journal,
    whose: Whose<'_>,
    (group, question): (&str, Option<Metric>),
    tempo_bpm: Option<f64>,
) -> Result<TrendReport, Trouble> {
    let name = whose.drill_name(journal)?;
    let group = Some(group).filter(|g| !g.is_empty());
    let reach = |t: f64| [t * (1.0 - LIKE_TEMPO), t * (1.0 + LIKE_TEMPO)];
    let which = Filter { tempo_bpm: tempo_bpm.map(reach), ..whose.filter(&journal.drills()?) };
    Ok(journal.trend(&which, (whose.player, &name), group, question)?)
}

/// The ladder of the latest takes.
pub(crate) fn ladder_of(journal: &Journal, whose: Whose<'_>) -> Result<LadderReport, Trouble> {
    whose.drill_name(journal)?;
    let rows = journal.list(&whose.filter(&journal.drills()?))?;
    let latest = rows.iter().skip(rows.len().saturating_sub(LADDER_TAKES));
    let reports = latest.map(|r| Ok(journal.take(r.take)?.2)).collect::<Result<Vec<_>, Trouble>>()?;
    ladder(&reports, SEED).map_err(|e| Trouble::Wrong(format!("No ladder: {e}.")))
}

/// Numbers of takes: "12, 13, 15-18".
pub(crate) fn numbers(text: &str) -> Result<Vec<i64>, Trouble> {
    take_numbers(text, TAKES)
        .ok_or_else(|| Trouble::Wrong(format!("Give up to {TAKES} numbers of takes, as 12, 13, 15-18.")))
}
