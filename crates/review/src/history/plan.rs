//! What to practise next, drill by drill: what is due, what has stalled, what may go up in tempo.
//!
//! Rules of practice, not statistics, and stated in each line: a drill is due once its rest is half again as long as
//! its usual one (common practice, no source); it may go up by 4 % after two practice days at its tempo with at most one
//! error in 100 notes and a margin of 2 or more. Stalled is more than "no change shown": the whole change over at least
//! eight days lies inside +-2 ms.

use super::compare::GroupHistory;
use super::days::{by_day, fit_days, is_like};
use super::metric::Metric;
use super::point::{TakePoint, middle};
use super::tasks::{SetTask, TaskLine, tasks};
use super::trend::STEADY_MS;
use crate::Figures;
use crate::caution::caution;
use crate::declared::{BIAS, MARGIN as MARGIN_FIGURE, SPREAD};
use crate::group_key::GroupKey;
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_stats::Sample;
use takegauge_stats::trend::is_steady;

/// The value of `schema`.
pub const PLAN_SCHEMA: &str = "takegauge/plan/1";
const UP: f64 = 1.04;
const ERRORS_IN_100: f64 = 1.0;
const MARGIN: f64 = 2.0;
const FEWEST_NOTES: usize = 100;

/// One player's takes of one drill, in the order recorded: the string changes' figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Practised {
    /// Whose.
    pub player: String,
    /// Which drill.
    pub drill: String,
    /// The takes.
    pub points: Vec<TakePoint>,
    /// The same takes' figures by kind of change.
    pub kinds: Vec<GroupHistory>,
}

/// `takegauge/plan/1`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct PlanReport {
    /// [`PLAN_SCHEMA`].
    #[cfg_attr(feature = "schemas", schemars(extend("const" = PLAN_SCHEMA)))]
    pub schema: String,
    /// The day it is for.
    pub today: String,
    /// The most urgent first.
    pub lines: Vec<PlanLine>,
    /// What was set and is not done, the most urgent first.
    #[serde(default)]
    pub tasks: Vec<TaskLine>,
    /// What to heed.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub cautions: Vec<String>,
}

/// One drill.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct PlanLine {
    /// Whose.
    pub player: String,
    /// Which.
    pub drill: String,
    /// The tempo it stands at.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
    /// The last day it was practised.
    pub last_day: String,
    /// Days since.
    pub days_since: i32,
    /// Practice days at this tempo.
    pub practice_days: usize,
    /// Its rest is half again as long as usual, or longer.
    pub due: bool,
    /// Inside +-2 ms over the span.
    pub stalled: bool,
    /// The change to work on, where one stands out.
    #[serde(default)]
    pub work_on: Option<GroupKey>,
    /// The tempo to begin at.
    #[serde(default)]
    pub start_bpm: Option<f64>,
    /// What to try, where it may go up.
    pub next_tempo_bpm: Option<f64>,
    /// What to do, in a sentence.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub what: String,
    /// Why.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub why: String,
}

/// Looks at each drill, and at what was set, as of `today` (days since 1970-01-01, and as the calendar writes it).
pub fn plan(drills: &[Practised], set: &[SetTask], today: i32, date: &str) -> PlanReport {
    let mut lines: Vec<(f64, PlanLine)> = drills.iter().filter_map(|d| line(d, today)).collect();
    lines.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.drill.cmp(&b.1.drill)));
    PlanReport {
        schema: PLAN_SCHEMA.to_owned(),
        today: date.to_owned(),
        lines: lines.into_iter().map(|(_, l)| l).collect(),
        tasks: tasks(set, today).into_iter().filter(|t| t.done.is_none()).collect(),
        cautions: vec![caution().to_owned()],
    }
}

/// A drill's line and how urgent it is: its rest against its usual one.
fn line(drill: &Practised, today: i32) -> Option<(f64, PlanLine)> {
    let last = drill.points.iter().max_by_key(|p| p.day)?;
    let on_last = drill.points.iter().filter(|p| p.day == last.day);
    let tempo = on_last.map(|p| p.tempo_bpm).max_by(f64::total_cmp)?;
    let here: Vec<TakePoint> = drill.points.iter().filter(|p| is_like(p.tempo_bpm, tempo)).cloned().collect();
    let days = distinct_days(&here);
    let all_days = distinct_days(&drill.points);
    let gaps: Vec<f64> = all_days.windows(2).map(|w| f64::from(w[1] - w[0])).collect();
    let usual = middle(&gaps).unwrap_or(2.0).max(1.0);
    let since = today - last.day;
    let urgency = f64::from(since) / usual;
    let due = urgency > 1.5;
    let stalled = stalled(&here);
    let up = may_go_up(&here, &days);
    let next = up.then(|| (tempo * UP).round());
    let worst = worst(&drill.kinds, tempo);
    let (what, why) =
        words(drill, tempo, (since, usual), (due, stalled.as_deref()), (next, worst.as_ref()), days.len());
    let line = PlanLine {
        player: drill.player.clone(),
        drill: drill.drill.clone(),
        tempo_bpm: (tempo * 10.0).round() / 10.0,
        last_day: last.date.clone(),
        days_since: since,
        practice_days: days.len(),
        due,
        stalled: stalled.is_some(),
        work_on: worst.as_ref().map(|w| w.group),
        start_bpm: worst.as_ref().map(|w| w.start_bpm),
        next_tempo_bpm: next,
        what,
        why,
    };
    Some((urgency, line))
}

fn words(
    drill: &Practised,
    tempo: f64,
    (since, usual): (i32, f64),
    (due, stalled): (bool, Option<&str>),
    (next, worst): (Option<f64>, Option<&Worst>),
    days: usize,
) -> (String, String) {
    let mut why = Vec::new();
    if due {
        let every = if usual < 1.5 { "every day".to_owned() } else { format!("every {usual:.0} days") };
        why.push(format!("last practised {since} days ago, usually {every}"));
    }
    if let Some(w) = worst {
        why.push(w.why.clone());
    }
    let whole = if let Some(next) = next {
        why.push(format!(
            "the last two days at {tempo:.0} bpm had at most {ERRORS_IN_100:.0} error in 100 notes and a margin of \
             {MARGIN:.0} or more"
        ));
        format!("try {next:.0} bpm, and go back if it comes apart")
    } else if let Some(stalled) = stalled {
        why.push(stalled.to_owned());
        "change how it is practised (short bursts, another tempo, one string change alone)".to_owned()
    } else {
        if !due {
            let s = if days == 1 { "" } else { "s" };
            why.push(format!("{days} practice day{s} at this tempo"));
        }
        format!("stay at {tempo:.0} bpm")
    };
    let what = match worst {
        Some(w) => {
            format!("{}: work on {}, from {:.0} bpm up; as a whole, {whole}", drill.drill, w.label, w.start_bpm)
        }
        None => format!("{}: {whole}", drill.drill),
    };
    (what, why.join("; "))
}

/// The change that stands out.
struct Worst {
    group: GroupKey,
    label: String,
    start_bpm: f64,
    why: String,
}

/// From this margin on (distances to the limit in units of the scatter) a tempo is begun at.
const MARGIN_TO_BEGIN: f64 = 3.0;
/// Practice days whose middle says how a kind stands now.
const LATEST_DAYS: usize = 3;
/// Lateness from which on a kind is worth work, ms: one shifted note is heard from 6 ms on (Friberg and Sundberg 1995).
const HEARD_MS: f64 = 6.0;

/// The kind of change that comes latest (or earliest) on the latest days at this tempo, if it can be heard, and since
/// when it does.
fn worst(kinds: &[GroupHistory], tempo: f64) -> Option<Worst> {
    let of = |h: &GroupHistory| -> Option<(f64, Worst)> {
        matches!(h.group, GroupKey::Kind(_)).then_some(())?;
        let here: Vec<TakePoint> = h.points.iter().filter(|p| is_like(p.tempo_bpm, tempo)).cloned().collect();
        let days = by_day(Metric::BIAS, &here);
        let latest = days.get(days.len().checked_sub(LATEST_DAYS)?..)?;
        let values: Vec<f64> = latest.iter().map(|d| d.value).collect();
        let late = middle(&values)?;
        if late.abs() < HEARD_MS {
            return None;
        }
        let same = |v: f64| v * late.signum() >= 0.5 * HEARD_MS;
        let since = days.iter().rev().take_while(|d| same(d.value)).last()?;
        let last = &here.iter().max_by_key(|p| p.day)?.figures;
        let start = share_with_margin(last).unwrap_or(0.8).clamp(0.5, 0.9) * tempo;
        let side = if late < 0.0 { "early" } else { "late" };
        let why = format!(
            "they come {:.1} ms {side} on average over the last {LATEST_DAYS} practice days at {tempo:.0} bpm, and have \
             done so since {}",
            late.abs(),
            since.date
        );
        let worst = Worst { group: h.group, label: h.label.clone(), start_bpm: (start / 5.0).round() * 5.0, why };
        Some((late.abs(), worst))
    };
    kinds.iter().filter_map(of).max_by(|a, b| a.0.total_cmp(&b.0)).map(|w| w.1)
}

/// The share of the tempo at which lateness and scatter, unchanged, leave a margin of 3: the limit grows as the tempo
/// falls.
fn share_with_margin(figures: &Figures) -> Option<f64> {
    let (bias, spread, margin) = (figures.value(&BIAS)?.abs(), figures.value(&SPREAD)?, figures.value(&MARGIN_FIGURE)?);
    let share = (margin * spread + bias) / (bias + MARGIN_TO_BEGIN * spread);
    share.is_finite().then_some(share)
}

fn distinct_days(points: &[TakePoint]) -> Vec<i32> {
    let mut days: Vec<i32> = points.iter().map(|p| p.day).collect();
    days.sort_unstable();
    days.dedup();
    days
}

fn stalled(points: &[TakePoint]) -> Option<String> {
    let days = by_day(Metric::SPREAD, points);
    let (fitted, weeks) = fit_days(&days, Metric::SPREAD.unit()).ok()?;
    let span = weeks.last().copied()?;
    let interval = fitted.line.slope.interval;
    let steady = Sample::new(&weeks).is_ok_and(|w| is_steady(&fitted, w, STEADY_MS));
    steady.then(|| {
        format!(
            "its scatter has not moved in {} practice days: the whole change lies between {:+.1} and {:+.1} ms",
            days.len(),
            interval.low * span,
            interval.high * span
        )
    })
}

fn may_go_up(points: &[TakePoint], days: &[i32]) -> bool {
    let Some([before, last]) = days.last_chunk::<2>() else { return false };
    [before, last].iter().all(|day| {
        let takes: Vec<&TakePoint> = points.iter().filter(|p| p.day == **day).collect();
        let notes: usize = takes.iter().map(|p| p.take_notes).sum();
        let errors: usize = takes.iter().map(|p| p.take_errors).sum();
        let margins: Vec<f64> = takes.iter().filter_map(|p| p.figures.value(&MARGIN_FIGURE)).collect();
        notes >= FEWEST_NOTES
            && 100.0 * errors as f64 <= ERRORS_IN_100 * notes as f64
            && middle(&margins).is_some_and(|m| m >= MARGIN)
    })
}
