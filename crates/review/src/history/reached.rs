//! The tempo that a drill has reached: the highest one at which its takes, pooled, are clean.

use super::found::FoundTake;
use crate::estimates::CONFIDENCE;
use crate::ladder::CLEAN_PCT;
use crate::round::{milli, milli_or_zero};
use crate::words::count;
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_stats::intervals;

pub(super) use crate::ladder::ONE_TEMPO;

/// How far a drill has come.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct TempoReached {
    /// Which drill.
    pub drill: String,
    /// Takes of it.
    pub takes: usize,
    /// The last day it was practised.
    pub last_day: String,
    /// The highest tempo whose exact upper 95 % limit of the note error rate is below 5 in 100, all takes within 1.5 % of it
    /// pooled.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub clean_up_to_bpm: Option<f64>,
    /// Notes reached at that tempo.
    pub notes: Option<usize>,
    /// Missed, wrong and extra ones among them.
    pub errors: Option<usize>,
    /// That upper limit, errors in 100 notes.
    pub at_most_in_100: Option<f64>,
    /// The first day with a take at that tempo.
    pub first_day: Option<String>,
    /// The fastest take.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub fastest_bpm: f64,
    /// All of it in a sentence.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub text: String,
}

/// Takes at one tempo, pooled.
pub(super) struct Pooled<'a> {
    pub(super) tempo_bpm: f64,
    pub(super) notes: usize,
    pub(super) errors: usize,
    takes: Vec<&'a FoundTake>,
}

/// Takes by tempo, rising; each within [`ONE_TEMPO`] of the slowest of its tempo.
pub(super) fn rungs(takes: &[FoundTake]) -> Vec<Pooled<'_>> {
    let mut order: Vec<&FoundTake> = takes.iter().filter(|t| t.tempo_bpm > 0.0).collect();
    order.sort_by(|a, b| a.tempo_bpm.total_cmp(&b.tempo_bpm));
    let mut all: Vec<Pooled<'_>> = Vec::new();
    for take in order {
        match all.last_mut().filter(|r| take.tempo_bpm <= r.takes[0].tempo_bpm * (1.0 + ONE_TEMPO)) {
            Some(rung) => {
                rung.notes += take.notes;
                rung.errors += take.errors;
                rung.takes.push(take);
                rung.tempo_bpm = rung.takes.iter().map(|t| t.tempo_bpm).sum::<f64>() / rung.takes.len() as f64;
            }
            None => all.push(Pooled {
                tempo_bpm: take.tempo_bpm,
                notes: take.notes,
                errors: take.errors,
                takes: vec![take],
            }),
        }
    }
    all
}

/// The exact upper 95 % limit of an error rate, in 100 notes; `None` of no notes.
fn at_most(errors: usize, notes: usize) -> Option<f64> {
    intervals::rate_upper_limit(errors.min(notes), notes, CONFIDENCE).ok().map(|r| 100.0 * r)
}

/// Whether the error rate is surely below 5 in 100.
pub(super) fn is_clean(errors: usize, notes: usize) -> bool {
    at_most(errors, notes).is_some_and(|p| p < CLEAN_PCT)
}

/// How far the takes of a drill have come; `None` of no takes.
pub(crate) fn reached(drill: &str, takes: &[FoundTake]) -> Option<TempoReached> {
    let rungs = rungs(takes);
    let fastest = takes.iter().map(|t| t.tempo_bpm).max_by(f64::total_cmp).filter(|t| *t > 0.0)?;
    let last = takes.iter().max_by_key(|t| t.day)?;
    let clean = rungs.iter().rev().find(|r| is_clean(r.errors, r.notes));
    let first = clean.and_then(|r| r.takes.iter().min_by_key(|t| t.day));
    let limit = clean.and_then(|r| at_most(r.errors, r.notes));
    let beyond = |from: f64| {
        let more = fastest > from * (1.0 + ONE_TEMPO);
        if more { format!("; played up to {fastest:.0} bpm") } else { String::new() }
    };
    let text = match (clean, limit) {
        (Some(r), Some(limit)) => format!(
            "clean at {:.0} bpm: {} in {} notes, at most {limit:.1} in 100{}",
            r.tempo_bpm,
            count(r.errors, "error", "errors"),
            r.notes,
            beyond(r.tempo_bpm)
        ),
        _ => {
            let slowest = rungs.first()?;
            let few = if slowest.errors == 0 { ", too few notes to show it" } else { "" };
            format!(
                "not shown to be clean at any tempo yet: {} in {} notes at {:.0} bpm, the slowest{few}{}",
                count(slowest.errors, "error", "errors"),
                slowest.notes,
                slowest.tempo_bpm,
                beyond(slowest.tempo_bpm)
            )
        }
    };
    Some(TempoReached {
        drill: drill.to_owned(),
        takes: takes.len(),
        last_day: last.date.clone(),
        clean_up_to_bpm: clean.map(|r| milli_or_zero(r.tempo_bpm)),
        notes: clean.map(|r| r.notes),
        errors: clean.map(|r| r.errors),
        at_most_in_100: limit.and_then(milli),
        first_day: first.map(|t| t.date.clone()),
        fastest_bpm: milli_or_zero(fastest),
        text,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn take(day: i32, tempo_bpm: f64, errors: usize) -> FoundTake {
        let date = format!("day {day}");
        FoundTake { take: day.into(), day, date, tempo_bpm, notes: 48, errors, findings: Vec::new() }
    }

    #[test]
    fn the_highest_clean_tempo_is_the_one_reached() {
        assert_eq!(reached("threes", &[]), None);
        // 0 errors in 48 notes are at most 6 in 100: one such take does not show it.
        let mut takes = vec![take(1, 120.0, 0)];
        let told = reached("threes", &takes).unwrap();
        assert_eq!(told.clean_up_to_bpm, None);
        assert_eq!(
            told.text,
            "not shown to be clean at any tempo yet: 0 errors in 48 notes at 120 bpm, the slowest, too few notes to show it"
        );
        takes.extend([take(2, 121.0, 0), take(3, 160.0, 6)]);
        let told = reached("threes", &takes).unwrap();
        assert_eq!((told.clean_up_to_bpm, told.first_day.as_deref()), (Some(120.5), Some("day 1")));
        // 1 - 0.05^(1/96), the closed form of no error.
        assert!((told.at_most_in_100.unwrap() - 100.0 * (1.0 - 0.05f64.powf(1.0 / 96.0))).abs() < 1e-3);
        assert_eq!(told.text, "clean at 120 bpm: 0 errors in 96 notes, at most 3.1 in 100; played up to 160 bpm");
    }
}
