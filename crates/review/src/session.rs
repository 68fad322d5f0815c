//! Several takes of one drill in the order played, with the rests between them: what came back after a rest.
//!
//! What changed is said, not why. Warm-up takes are listed and enter no comparison.

#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use takegauge_stats::comparison::variance_ratio;
use takegauge_stats::trend::trend;
use takegauge_stats::{Estimate, Sample, robust};

use crate::caution;
use crate::estimates::CONFIDENCE;
use crate::ladder::{SeveralError, one_drill};
use crate::residuals::SLIP_MADS;
use crate::round::{milli, milli_or_zero};
use crate::score::{Figure, Reason, ScoreReport};

/// The value of `schema`.
pub const SESSION_SCHEMA: &str = "takegauge/session/1";

/// Fewer notes in a third of a take say nothing of its scatter.
const LEAST_IN_A_THIRD: usize = 8;

/// Fewer takes show no course over a session.
const LEAST_TAKES: usize = 5;

/// One take of a session, as it is handed in.
#[derive(Debug, Clone, Copy)]
pub struct SessionTake<'a> {
    /// Its report.
    pub report: &'a ScoreReport,
    /// Rest before it, s; `None` where it is not known, and for the first.
    pub rest_before_s: Option<f64>,
    /// Played to warm up: listed, not compared.
    pub warm_up: bool,
}

/// `takegauge/session/1`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct SessionReport {
    /// [`SESSION_SCHEMA`].
    #[cfg_attr(feature = "schemas", schemars(extend("const" = SESSION_SCHEMA)))]
    pub schema: String,
    /// The drill's name.
    pub drill: String,
    /// In the order played.
    pub takes: Vec<SessionTakeRow>,
    /// One a pair of neighbouring takes that are no warm-up.
    pub rests: Vec<RestRow>,
    /// How the takes' scatter moves over the session, ms a take.
    pub spread_a_take_ms: Figure,
    /// In plain words.
    pub remarks: Vec<String>,
    /// What to heed where tiredness is spoken of.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub cautions: Vec<String>,
}

/// One take.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct SessionTakeRow {
    /// As the user named it.
    pub path: String,
    /// As played.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
    /// Rest before it, s.
    pub rest_before_s: Option<f64>,
    /// Played to warm up.
    pub warm_up: bool,
    /// Scatter within places, ms.
    pub spread_ms: Figure,
    /// Scatter of the first third, ms.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub first_third_ms: Option<f64>,
    /// Scatter of the last third, ms.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub last_third_ms: Option<f64>,
    /// Scatter at the end over that at the start.
    pub spread_ratio: Figure,
    /// Missed, wrong and extra notes.
    pub errors: usize,
    /// Notes reached.
    pub notes: usize,
}

/// From the end of one take to the start of the next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct RestRow {
    /// Place of the take before in `takes`.
    pub after_take: usize,
    /// How long, s.
    pub rest_s: Option<f64>,
    /// Scatter of the first third of the next take over that of the last third of this one.
    pub spread_ratio: Figure,
    /// In plain words.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub text: String,
}

/// The session of `takes`, in the order played.
///
/// # Errors
/// [`SeveralError`]: no take, or takes of different lines.
pub fn session(takes: &[SessionTake]) -> Result<SessionReport, SeveralError> {
    one_drill(takes.iter().map(|t| t.report))?;
    let parts = thirds(takes);
    let rows: Vec<SessionTakeRow> = takes.iter().zip(&parts).map(|(t, p)| take_row(t, p)).collect();
    let rests: Vec<RestRow> = (1..takes.len())
        .filter(|&k| !takes[k].warm_up && !takes[k - 1].warm_up)
        .map(|k| rest_row(k - 1, takes[k].rest_before_s, &parts[k - 1].last, &parts[k].first))
        .collect();
    let spread_a_take_ms = course(&rows);
    let remarks = remarks(&rows, &rests, &spread_a_take_ms);
    Ok(SessionReport {
        schema: SESSION_SCHEMA.into(),
        drill: takes.first().map_or_else(String::new, |t| t.report.drill.name.clone()),
        takes: rows,
        rests,
        spread_a_take_ms,
        remarks,
        cautions: vec![caution().to_owned()],
    })
}

/// Residuals of a take's first and last third, ms.
struct Thirds {
    first: Vec<f64>,
    last: Vec<f64>,
}

/// Residuals less the mean of their place over the session (a late place is no scatter), slips pulled in to 4 MAD.
fn thirds(takes: &[SessionTake]) -> Vec<Thirds> {
    let mut places: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    for n in takes.iter().flat_map(|t| &t.report.notes) {
        if let Some(v) = n.local_deviation_ms {
            let sums = places.entry(n.position).or_default();
            *sums = (sums.0 + v, sums.1 + 1.0);
        }
    }
    let mean = |p: usize| places.get(&p).map_or(0.0, |s| s.0 / s.1);
    takes
        .iter()
        .map(|t| {
            let of_take = t.report.notes.iter();
            let mut v: Vec<f64> = of_take.filter_map(|n| Some(n.local_deviation_ms? - mean(n.position))).collect();
            // No values, or finite ones with a positive number of MADs: nothing to fail on.
            let _ = robust::winsorise(&mut v, SLIP_MADS);
            let third = v.len() / 3;
            Thirds { first: v[..third].to_vec(), last: v[v.len() - third..].to_vec() }
        })
        .collect()
}

/// Mean square about 0 with its degrees of freedom; `None` with too few values.
fn mean_square(v: &[f64]) -> Option<(f64, f64)> {
    let df = v.len() as f64;
    (v.len() >= LEAST_IN_A_THIRD).then(|| (v.iter().map(|x| x * x).sum::<f64>() / df, df))
}

fn take_row(take: &SessionTake, parts: &Thirds) -> SessionTakeRow {
    let r = take.report;
    let sd = |v: &[f64]| mean_square(v).and_then(|(m, _)| milli(m.sqrt()));
    SessionTakeRow {
        path: r.take.path.clone(),
        tempo_bpm: milli_or_zero(r.timebase.tempo_bpm),
        rest_before_s: take.rest_before_s.and_then(milli),
        warm_up: take.warm_up,
        spread_ms: r.summary.spread_ms.clone(),
        first_third_ms: sd(&parts.first),
        last_third_ms: sd(&parts.last),
        spread_ratio: r.along.spread_ratio.clone(),
        errors: r.reliability.errors,
        notes: r.reliability.notes,
    }
}

/// Scatter of a third as it is shown.
fn sd_of(third: &[f64]) -> Option<String> {
    mean_square(third).map(|(square, _)| format!("{:.1}", square.sqrt()))
}

fn rest_row(after_take: usize, rest_s: Option<f64>, before: &[f64], after: &[f64]) -> RestRow {
    let n = before.len() + after.len();
    let ratio = mean_square(after)
        .zip(mean_square(before))
        .and_then(|((a, df_a), (b, df_b))| variance_ratio([a, b], [df_a, df_b], n, CONFIDENCE).ok());
    let rest = match rest_s {
        Some(s) if s >= 90.0 => format!("After {:.0} minutes", s / 60.0),
        Some(s) => format!("After {s:.0} s"),
        None => "After the rest".to_owned(),
    };
    let Some(e) = ratio else {
        let why = format!("fewer than {LEAST_IN_A_THIRD} notes in a third of a take");
        let text = format!("{rest}: not told, {why}.");
        return RestRow {
            after_take,
            rest_s: rest_s.and_then(milli),
            spread_ratio: Figure::withheld(Reason::TooFew, why, n),
            text,
        };
    };
    let figures =
        format!("{:.1} times what it was ({:.1} to {:.1}, {n} notes)", e.value, e.interval.low, e.interval.high);
    // Thirds that read the same do not differ, however sure their ratio.
    let same = sd_of(before) == sd_of(after);
    let text = if same && (e.interval.high < 1.0 || e.interval.low > 1.0) {
        format!(
            "{rest} no change of scatter shows: {} ms before and after ({n} notes).",
            sd_of(after).unwrap_or_default()
        )
    } else if e.interval.high < 1.0 {
        format!("{rest} the scatter has come back: {figures}.")
    } else if e.interval.low > 1.0 {
        format!("{rest} the scatter is larger: {figures}.")
    } else {
        format!("{rest} no change of scatter shows: {figures}.")
    };
    RestRow { after_take, rest_s: rest_s.and_then(milli), spread_ratio: Figure::estimated(Estimate { n, ..e }), text }
}

/// Theil-Sen slope of the takes' scatter over their number, warm-up left out.
fn course(rows: &[SessionTakeRow]) -> Figure {
    let told: Vec<(f64, f64)> = rows
        .iter()
        .enumerate()
        .filter(|(_, r)| !r.warm_up)
        .filter_map(|(k, r)| Some((k as f64, r.spread_ms.value?)))
        .collect();
    let n = told.len();
    if n < LEAST_TAKES {
        let why = format!(
            "{} with a scatter figure: a course over the session needs {LEAST_TAKES}",
            crate::words::count(n, "take", "takes")
        );
        return Figure::withheld(Reason::TooFew, why, n);
    }
    let (times, values): (Vec<f64>, Vec<f64>) = told.into_iter().unzip();
    match Sample::new(&times).and_then(|t| trend(t, Sample::new(&values)?, CONFIDENCE)) {
        Ok(t) => Figure::estimated(Estimate { n, ..t.line.slope }),
        Err(e) => Figure::withheld(Reason::NoneShown, e.to_string(), n),
    }
}

fn remarks(rows: &[SessionTakeRow], rests: &[RestRow], course: &Figure) -> Vec<String> {
    let mut out: Vec<String> = rests.iter().map(|r| r.text.clone()).collect();
    if rows.len() == 1 {
        out.push("One take: what a rest brings back shows from two takes on.".to_owned());
    }
    if let (Some(v), Some([low, high])) = (course.value, course.ci95) {
        let side = if low > 0.0 {
            "grows"
        } else if high < 0.0 {
            "falls"
        } else {
            "shows no course"
        };
        out.push(format!("Over the session the scatter {side}: {v:+.1} ms a take ({low:.1} to {high:.1})."));
    }
    let warm_up = rows.iter().filter(|r| r.warm_up).count();
    if warm_up > 0 {
        out.push(format!(
            "{} at the start to warm up: listed, not compared.",
            crate::words::count(warm_up, "take", "takes")
        ));
    }
    let tempos: Vec<f64> = rows.iter().filter(|r| !r.warm_up).map(|r| r.tempo_bpm).collect();
    let (low, high) = tempos.iter().fold((f64::MAX, f64::MIN), |(l, h), t| (l.min(*t), h.max(*t)));
    if tempos.len() > 1 && high > 1.04 * low {
        out.push(
            "The takes differ in tempo by more than 4 per cent, so tempo and rest cannot be told apart.".to_owned(),
        );
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thirds_that_read_the_same_are_not_told_apart() {
        let third = |ms: f64| -> Vec<f64> { (0..10).map(|k| if k % 2 == 0 { ms } else { -ms }).collect() };
        let told = |before: f64, after: f64| rest_row(0, Some(30.0), &third(before), &third(after)).text;
        assert_eq!(told(0.01, 0.04), "After 30 s no change of scatter shows: 0.0 ms before and after (20 notes).");
        assert!(told(2.0, 8.0).starts_with("After 30 s the scatter is larger: 4.0 times what it was ("));
    }
}
