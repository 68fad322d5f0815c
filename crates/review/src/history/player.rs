//! One player at a glance: the last take, what is open and since when, the tempo reached, what was set, what is next.

use super::found::{FindingOverDays, FoundTake, over_days};
use super::plan::PlanLine;
use super::reached::{TempoReached, reached};
use super::tasks::TaskLine;
use crate::caution::caution;
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The value of `schema`.
pub const PLAYER_SCHEMA: &str = "takegauge/player/1";
/// So many days a finding that went is still told of.
const GONE_DAYS: i32 = 28;

/// One drill's takes, in the order recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct PlayedDrill {
    /// Its name.
    pub drill: String,
    /// The takes.
    pub takes: Vec<FoundTake>,
}

/// `takegauge/player/1`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct PlayerReport {
    /// [`PLAYER_SCHEMA`].
    #[cfg_attr(feature = "schemas", schemars(extend("const" = PLAYER_SCHEMA)))]
    pub schema: String,
    /// Whom it is about.
    pub player: String,
    /// The day it is for.
    pub today: String,
    /// Takes up to then.
    pub takes: usize,
    /// Days with a take.
    pub practice_days: usize,
    /// The day of the first take.
    pub first_day: Option<String>,
    /// The last take.
    pub last: Option<LastTake>,
    /// What was set and is not done, the most urgent first; then what was ticked off, the latest first.
    pub tasks: Vec<TaskLine>,
    /// Findings that are not gone, the ones told last first.
    pub open: Vec<FindingOverDays>,
    /// Findings that went within four weeks.
    pub gone: Vec<FindingOverDays>,
    /// The tempo reached, drill by drill, the one practised last first.
    pub reached: Vec<TempoReached>,
    /// What is next, the most urgent first.
    pub next: Vec<PlanLine>,
    /// What to heed.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub cautions: Vec<String>,
}

/// The last take of a player.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct LastTake {
    /// Its number in the journal.
    pub take: i64,
    /// Of which drill.
    pub drill: String,
    /// The day it was recorded.
    pub day: String,
    /// Days since.
    pub days_since: i32,
    /// As played.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
    /// Notes reached.
    pub notes: usize,
    /// Missed, wrong and extra ones among them.
    pub errors: usize,
    /// Its first finding; `null` where nothing was found.
    pub finding: Option<String>,
}

/// Puts together what is known of a player as of `today`. Takes of later days do not count.
pub fn player(
    name: &str,
    drills: &[PlayedDrill],
    tasks: Vec<TaskLine>,
    next: Vec<PlanLine>,
    (today, date): (i32, &str),
) -> PlayerReport {
    let up_to_now = |d: &PlayedDrill| PlayedDrill {
        drill: d.drill.clone(),
        takes: d.takes.iter().filter(|t| t.day <= today).cloned().collect(),
    };
    let mut drills: Vec<PlayedDrill> = drills.iter().map(up_to_now).filter(|d| !d.takes.is_empty()).collect();
    let latest = |d: &PlayedDrill| d.takes.iter().map(|t| t.day).max();
    drills.sort_by(|a, b| latest(b).cmp(&latest(a)).then_with(|| a.drill.cmp(&b.drill)));
    let all = || drills.iter().flat_map(|d| &d.takes);
    let mut days: Vec<i32> = all().map(|t| t.day).collect();
    days.sort_unstable();
    days.dedup();
    // Takes of a drill stand in the order recorded: of one day's takes of several drills the highest number is the last.
    let last_of = |d: &PlayedDrill| d.takes.last().map(|t| (t.day, t.take));
    let last = drills.iter().max_by_key(|d| last_of(d)).and_then(|d| last_take(d, today));
    let mut findings: Vec<FindingOverDays> =
        drills.iter().flat_map(|d| over_days(&d.drill, &d.takes, today, GONE_DAYS)).collect();
    findings.sort_by(|a, b| b.last.cmp(&a.last).then_with(|| a.since.cmp(&b.since)));
    let (open, gone) = findings.into_iter().partition(|f| f.gone.is_none());
    PlayerReport {
        schema: PLAYER_SCHEMA.to_owned(),
        player: name.to_owned(),
        today: date.to_owned(),
        takes: all().count(),
        practice_days: days.len(),
        first_day: all().min_by_key(|t| t.day).map(|t| t.date.clone()),
        last,
        tasks,
        open,
        gone,
        reached: drills.iter().filter_map(|d| reached(&d.drill, &d.takes)).collect(),
        next,
        cautions: vec![caution().to_owned()],
    }
}

fn last_take(of: &PlayedDrill, today: i32) -> Option<LastTake> {
    let take = of.takes.last()?;
    Some(LastTake {
        take: take.take,
        drill: of.drill.clone(),
        day: take.date.clone(),
        days_since: today - take.day,
        tempo_bpm: (take.tempo_bpm * 10.0).round() / 10.0,
        notes: take.notes,
        errors: take.errors,
        finding: take.findings.first().map(|f| f.text.clone()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::Found;
    use crate::{GroupKey, Measure};

    fn take(take: i64, day: i32, text: &str) -> FoundTake {
        let found = Found { group: GroupKey::Change, measure: Measure::Spread, text: text.to_owned() };
        FoundTake {
            take,
            day,
            date: format!("2026-03-{day:02}"),
            tempo_bpm: 140.0,
            notes: 96,
            errors: 1,
            findings: if text.is_empty() { Vec::new() } else { vec![found] },
        }
    }

    #[test]
    fn a_player_is_told_as_of_a_day() {
        let drills = [
            PlayedDrill { drill: "threes".into(), takes: vec![take(1, 1, "loose"), take(4, 9, "looser")] },
            PlayedDrill { drill: "rolls".into(), takes: vec![take(2, 3, ""), take(3, 5, "")] },
        ];
        let of = |today: i32| player("Ada", &drills, Vec::new(), Vec::new(), (today, "that day"));
        let now = of(10);
        assert_eq!((now.takes, now.practice_days, now.first_day.as_deref()), (4, 4, Some("2026-03-01")));
        let last = now.last.unwrap();
        assert_eq!((last.take, last.days_since, last.finding.as_deref()), (4, 1, Some("looser")));
        assert_eq!((now.open.len(), now.open[0].since.as_str(), now.open[0].told_days), (1, "2026-03-01", 2));
        let order: Vec<&str> = now.reached.iter().map(|r| r.drill.as_str()).collect();
        assert_eq!(order, ["threes", "rolls"]);
        let then = of(6);
        let last = then.last.unwrap();
        assert_eq!((then.takes, last.take, last.finding), (3, 3, None));
        let before = of(0);
        assert_eq!((before.takes, before.last, before.reached.len(), before.open.len()), (0, None, 0, 0));
        assert!(before.cautions[0].contains("numbness"));
    }
}
