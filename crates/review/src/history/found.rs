//! Which findings of a drill are still there, and since when.
//!
//! A finding is a measure of a group of notes ("inside changes, late"). It is open from the first practice day that tells it
//! until two practice days in a row do not. A day on which everything was slower than where it was last told says nothing
//! of it: what comes apart at speed is not mended by playing slowly. This is a count of days, no test: a short take may fail
//! to show what is still there, which is why one day without it is not enough.

use super::days::LIKE_TEMPO;
use crate::group_key::GroupKey;
use crate::score::Measure;
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Practice days in a row without a finding after which it is gone.
const SILENT_DAYS: usize = 2;

/// One finding of one take.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Which notes.
    pub group: GroupKey,
    /// What of them.
    pub measure: Measure,
    /// In a sentence.
    pub text: String,
}

/// One take with what was found in it.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundTake {
    /// The take's number in the journal.
    pub take: i64,
    /// The player's local day, from 1970-01-01.
    pub day: i32,
    /// The same, as the calendar writes it.
    pub date: String,
    /// As played.
    pub tempo_bpm: f64,
    /// Notes reached.
    pub notes: usize,
    /// Missed, wrong and extra notes.
    pub errors: usize,
    /// What was found.
    pub findings: Vec<Found>,
}

/// A finding over practice days.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct FindingOverDays {
    /// Of which drill.
    pub drill: String,
    /// Which notes.
    pub group: GroupKey,
    /// What of them.
    pub measure: Measure,
    /// As the last take that tells it says it.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub text: String,
    /// The first day it was told.
    pub since: String,
    /// Days from then to today.
    pub days_open: i32,
    /// The last day it was told.
    pub last: String,
    /// The take that tells it last.
    pub take: i64,
    /// Practice days that tell it, from the first on.
    pub told_days: usize,
    /// Practice days from the first on that could have told it.
    pub practice_days: usize,
    /// The day by which it had not been told two practice days in a row; `null` while it is open.
    pub gone: Option<String>,
}

struct Run {
    at: FindingOverDays,
    from_day: i32,
    last_day: i32,
    tempo_bpm: f64,
    silent: usize,
    gone_day: i32,
}

/// The findings of a drill's takes, which stand in the order recorded, up to `today`: those that are open, the ones told
/// last first; then those that went within `keep_gone` days.
pub(crate) fn over_days(drill: &str, takes: &[FoundTake], today: i32, keep_gone: i32) -> Vec<FindingOverDays> {
    let mut takes: Vec<&FoundTake> = takes.iter().filter(|t| t.day <= today).collect();
    takes.sort_by_key(|t| (t.day, t.take));
    let mut runs: BTreeMap<(GroupKey, Measure), Run> = BTreeMap::new();
    let mut gone: Vec<Run> = Vec::new();
    for day in takes.chunk_by(|a, b| a.day == b.day) {
        let told: BTreeMap<(GroupKey, Measure), (&FoundTake, &Found)> =
            day.iter().flat_map(|t| t.findings.iter().map(move |f| ((f.group, f.measure), (*t, f)))).collect();
        let fastest = day.iter().map(|t| t.tempo_bpm).fold(0.0, f64::max);
        for (key, run) in &mut runs {
            if !told.contains_key(key) && fastest >= run.tempo_bpm * (1.0 - LIKE_TEMPO) {
                run.silent += 1;
                run.at.practice_days += 1;
                (run.gone_day, run.at.gone) = (day[0].day, Some(day[0].date.clone()));
            }
        }
        let over: Vec<_> = runs.iter().filter(|(_, r)| r.silent >= SILENT_DAYS).map(|(key, _)| *key).collect();
        gone.extend(over.iter().filter_map(|key| runs.remove(key)));
        for (key, (take, found)) in told {
            let run = runs.entry(key).or_insert_with(|| Run {
                at: FindingOverDays {
                    drill: drill.to_owned(),
                    group: found.group,
                    measure: found.measure,
                    text: String::new(),
                    since: take.date.clone(),
                    days_open: 0,
                    last: String::new(),
                    take: 0,
                    told_days: 0,
                    practice_days: 0,
                    gone: None,
                },
                from_day: take.day,
                last_day: take.day,
                tempo_bpm: 0.0,
                silent: 0,
                gone_day: 0,
            });
            let at = &mut run.at;
            (at.text, at.last, at.take) = (found.text.clone(), take.date.clone(), take.take);
            (at.told_days, at.practice_days, at.gone) = (at.told_days + 1, at.practice_days + 1, None);
            (run.last_day, run.tempo_bpm, run.silent) = (take.day, take.tempo_bpm, 0);
        }
    }
    let finished = |run: Run, open: bool| FindingOverDays {
        days_open: if open { today } else { run.gone_day } - run.from_day,
        gone: if open { None } else { run.at.gone.clone() },
        ..run.at
    };
    let mut open: Vec<Run> = runs.into_values().collect();
    open.sort_by_key(|r| (std::cmp::Reverse(r.last_day), r.from_day));
    gone.retain(|r| today - r.gone_day <= keep_gone);
    gone.sort_by_key(|r| std::cmp::Reverse(r.gone_day));
    let open = open.into_iter().map(|r| finished(r, true));
    open.chain(gone.into_iter().map(|r| finished(r, false))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_drill::ChangeKind;

    const LATE: (GroupKey, Measure) = (GroupKey::Kind(ChangeKind::Inside), Measure::Bias);
    const LOOSE: (GroupKey, Measure) = (GroupKey::Change, Measure::Spread);

    fn take(day: i32, tempo_bpm: f64, found: &[(GroupKey, Measure)]) -> FoundTake {
        let text = |(group, measure): &(GroupKey, Measure)| format!("{group} {} on day {day}", measure.name());
        let one = |f: &(GroupKey, Measure)| Found { group: f.0, measure: f.1, text: text(f) };
        FoundTake {
            take: i64::from(day) * 10 + found.len() as i64,
            day,
            date: format!("day {day}"),
            tempo_bpm,
            notes: 96,
            errors: 0,
            findings: found.iter().map(one).collect(),
        }
    }

    fn told(takes: &[FoundTake], today: i32) -> Vec<(String, String, usize, usize, Option<String>)> {
        let all = over_days("threes", takes, today, 28);
        all.into_iter().map(|f| (f.text, f.since, f.told_days, f.practice_days, f.gone)).collect()
    }

    #[test]
    fn one_day_without_it_leaves_a_finding_open_and_two_close_it() {
        let mut takes = vec![take(1, 160.0, &[LATE, LOOSE]), take(3, 160.0, &[LATE]), take(5, 160.0, &[])];
        let row = |text: &str, since: &str, n: usize, of: usize| (text.to_owned(), since.to_owned(), n, of, None);
        let late = row("inside bias on day 3", "day 1", 2, 3);
        let loose =
            |gone: &str| (("change spread on day 1".to_owned()), "day 1".to_owned(), 1, 3, Some(gone.to_owned()));
        assert_eq!(told(&takes, 6), [late.clone(), loose("day 5")]);
        // A second take of the same day is the same practice day.
        takes.push(take(5, 161.0, &[]));
        assert_eq!(told(&takes, 6)[0], late);
        takes.push(take(8, 160.0, &[LATE]));
        assert_eq!(told(&takes, 8)[0], row("inside bias on day 8", "day 1", 3, 4));
        takes.extend([take(9, 160.0, &[]), take(10, 160.0, &[])]);
        let now = told(&takes, 10);
        assert_eq!(now[0].4.as_deref(), Some("day 10"), "{now:?}");
        // What went is told for a while, what comes again begins anew.
        assert!(over_days("threes", &takes, 60, 28).is_empty());
        takes.push(take(61, 160.0, &[LATE]));
        assert_eq!(told(&takes, 61), [row("inside bias on day 61", "day 61", 1, 1)]);
        // As of an earlier day nothing later counts.
        assert_eq!(told(&takes, 6), [late, loose("day 5")]);
    }

    #[test]
    fn slower_days_say_nothing() {
        let mut takes = vec![take(1, 160.0, &[LATE])];
        takes.extend((2..9).map(|day| take(day, 120.0, &[])));
        assert_eq!(told(&takes, 9)[0], ("inside bias on day 1".to_owned(), "day 1".to_owned(), 1, 1, None));
        takes.extend([take(10, 155.0, &[]), take(11, 170.0, &[])]);
        assert_eq!(told(&takes, 11)[0].4.as_deref(), Some("day 11"));
    }
}
