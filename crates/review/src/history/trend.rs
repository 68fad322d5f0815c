//! What weeks of practice changed, and what they could not show.
//!
//! One value a practice day: the median of that day's takes. Slope by Theil-Sen with Gilbert's interval, test by
//! Mann-Kendall, both corrected where successive days resemble each other (see `takegauge_stats::trend`). The first
//! series asked for is the question; the others are corrected for their number (Holm 1979).

use super::days::{DayValue, FEWEST_DAYS, by_day, fit_days};
use super::metric::Metric;
use super::point::TakePoint;
use crate::group_key::GroupKey;
use crate::round::{interval, milli};
use crate::score::Unit;
use crate::words::{capital, count};
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_stats::Sample;
use takegauge_stats::multiple::holm;
use takegauge_stats::trend::{Trend, is_steady};

/// The value of `schema`.
pub const TREND_SCHEMA: &str = "takegauge/trend/1";
/// A change inside this over the whole span counts as none, ms.
pub(crate) const STEADY_MS: f64 = 2.0;
const ALPHA: f64 = 0.05;

/// What is asked: one metric of one group of notes.
#[derive(Debug, Clone, Copy)]
pub struct Series<'a> {
    /// Which notes.
    pub group: GroupKey,
    /// As a player reads it.
    pub label: &'a str,
    /// What of it.
    pub metric: Metric,
    /// The takes, in the order recorded.
    pub points: &'a [TakePoint],
}

/// `takegauge/trend/1`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct TrendReport {
    /// [`TREND_SCHEMA`].
    #[cfg_attr(feature = "schemas", schemars(extend("const" = TREND_SCHEMA)))]
    pub schema: String,
    /// Whose.
    pub player: String,
    /// Of which drill.
    pub drill: String,
    /// Takes played from this tempo to that; `None` where all count.
    pub tempo_bpm: Option<[f64; 2]>,
    /// The answer in one sentence.
    #[serde(default)]
    pub headline: String,
    /// The question first; where none was asked, what changed, the best supported first.
    pub rows: Vec<TrendRow>,
    /// What stayed, in sentences.
    #[serde(default)]
    pub text: Vec<String>,
    /// What to heed.
    pub remarks: Vec<String>,
}

/// One series.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct TrendRow {
    /// The group.
    pub group: GroupKey,
    /// As a player reads it.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub label: String,
    /// Which figure.
    pub metric: Metric,
    /// Of the values.
    pub unit: Unit,
    /// Takes behind it.
    pub takes: usize,
    /// One a practice day.
    pub days: Vec<DayValue>,
    /// The line; `None` where it is withheld.
    pub fit: Option<LineFit>,
    /// Why no line is drawn.
    pub withheld: Option<String>,
    /// One or two plain sentences.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub text: String,
}

/// Line and test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct LineFit {
    /// Per week.
    pub slope_a_week: f64,
    /// 95 % interval.
    pub slope_ci95: [f64; 2],
    /// The line's value on the first day.
    pub start_value: f64,
    /// First to last day.
    pub span_days: i32,
    /// Slope times span.
    pub change: f64,
    /// 95 % interval.
    pub change_ci95: [f64; 2],
    /// Two-sided p of Mann-Kendall, exact for few days.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0, max = 1.0)))]
    pub p: f64,
    /// Corrected for the number of further series; `None` for the question itself.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0, max = 1.0)))]
    pub p_adjusted: Option<f64>,
    /// The smallest change over the span that these days show with a chance of 80 %.
    pub smallest_change_shown: f64,
    /// Likeness of successive days.
    pub autocorrelation: f64,
    /// By how much it widens the variance.
    pub variance_factor: f64,
    /// SD of the days about the line.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
    pub day_sd: f64,
    /// What the test and the interval say.
    pub verdict: Verdict,
}

/// What a trend's line says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// A change beyond chance.
    Change,
    /// None beyond chance; a small one may be there.
    #[serde(rename = "none shown")]
    NoneShown,
    /// The whole interval lies inside what counts as no change.
    Steady,
}

/// Follows each series; the first is the question.
pub fn trend(player: &str, drill: &str, tempo_bpm: Option<[f64; 2]>, series: &[Series<'_>]) -> TrendReport {
    let mut rows: Vec<TrendRow> = series.iter().map(follow).collect();
    let others: Vec<f64> = rows.iter().skip(1).filter_map(|r| r.fit.as_ref().map(|f| f.p)).collect();
    let mut adjusted = holm(&others).unwrap_or_default().into_iter();
    for (i, row) in rows.iter_mut().enumerate() {
        if let Some(fit) = &mut row.fit {
            if i > 0 {
                fit.p_adjusted = adjusted.next().and_then(milli4);
            }
            if fit.p_adjusted.unwrap_or(fit.p) <= ALPHA {
                fit.verdict = Verdict::Change;
            }
            row.text = tell(row.metric, &row.label, fit, row.days.len(), row.takes);
        }
    }
    let remarks = series.first().map(|s| remarks(s.points)).unwrap_or_default();
    TrendReport {
        schema: TREND_SCHEMA.to_owned(),
        player: player.to_owned(),
        drill: drill.to_owned(),
        tempo_bpm: tempo_bpm.and_then(|[a, b]| interval(a, b)),
        headline: rows.first().map(|r| r.text.clone()).unwrap_or_default(),
        rows,
        text: Vec::new(),
        remarks,
    }
}

fn follow(series: &Series<'_>) -> TrendRow {
    let days = by_day(series.metric, series.points);
    let (fit, withheld) = match fit_days(&days, series.metric.unit()) {
        Ok((fitted, weeks)) => (line(series.metric, &fitted, &weeks, &days), None),
        Err(why) => (None, Some(seldom_told(series, &days).unwrap_or(why))),
    };
    let text = withheld.as_ref().map(|w| format!("{} of {}: {w}.", capital(series.metric.words()), series.label));
    TrendRow {
        group: series.group,
        label: series.label.to_owned(),
        metric: series.metric,
        unit: series.metric.unit(),
        takes: days.iter().map(|d| d.takes).sum(),
        days,
        fit,
        withheld,
        text: text.unwrap_or_default(),
    }
}

/// What is known of a series that too few days tell because their takes withhold the figure; `None` where days are too
/// few by themselves.
fn seldom_told(series: &Series<'_>, days: &[DayValue]) -> Option<String> {
    let mut practised: Vec<i32> = series.points.iter().map(|p| p.day).collect();
    practised.sort_unstable();
    practised.dedup();
    let (told, of) = (days.len(), practised.len());
    if told >= FEWEST_DAYS || told == of {
        return None;
    }
    let days = count(of, "practice day", "practice days");
    Some(match (told, series.metric) {
        (0, Metric::CleanTempo) => format!("no take without an error on {days} so far"),
        (0, _) => format!("not told by any take of {days} so far; the report of a take says why"),
        _ => format!("told on {told} of {days} so far; a trend needs at least {FEWEST_DAYS} that tell it"),
    })
}

fn line(metric: Metric, t: &Trend, weeks: &[f64], days: &[DayValue]) -> Option<LineFit> {
    let slope = t.line.slope;
    let span = weeks.last().copied()?;
    let steady = metric.unit() == Unit::Milliseconds && Sample::new(weeks).is_ok_and(|w| is_steady(t, w, STEADY_MS));
    Some(LineFit {
        slope_a_week: milli4(slope.value)?,
        slope_ci95: [milli4(slope.interval.low)?, milli4(slope.interval.high)?],
        start_value: milli(t.line.intercept)?,
        span_days: days.last()?.day - days.first()?.day,
        change: milli(slope.value * span)?,
        change_ci95: interval(slope.interval.low * span, slope.interval.high * span)?,
        p: milli4(t.p)?,
        p_adjusted: None,
        smallest_change_shown: milli(t.smallest_detectable_change)?,
        autocorrelation: milli(t.autocorrelation)?,
        variance_factor: milli(t.variance_factor)?,
        day_sd: milli(t.residual_sd)?,
        verdict: if steady { Verdict::Steady } else { Verdict::NoneShown },
    })
}

/// To 0.0001: p-values and slopes.
fn milli4(x: f64) -> Option<f64> {
    let r = (x * 1e4).round() / 1e4;
    r.is_finite().then_some(r + 0.0)
}

fn tell(metric: Metric, label: &str, f: &LineFit, days: usize, takes: usize) -> String {
    let unit = if metric.unit() == Unit::None { String::new() } else { format!(" {}", metric.unit().name()) };
    let what = metric.words();
    let digits = if metric == Metric::CleanTempo { 0 } else { 1 };
    let p = f.p_adjusted.unwrap_or(f.p);
    let p = if p < 0.001 { "p < 0.001".to_owned() } else { format!("p = {p:.3}") };
    let rate = format!(
        "{:+.2}{unit} a week (95 %: {:+.2} to {:+.2}; {p}{}; {days} days, {takes} takes)",
        f.slope_a_week,
        f.slope_ci95[0],
        f.slope_ci95[1],
        if f.p_adjusted.is_some() { ", corrected" } else { "" },
    );
    let weeks = f64::from(f.span_days) / 7.0;
    match f.verdict {
        Verdict::Change => format!(
            "{} of {label} changed: {rate}, so {:+.digits$}{unit} over {weeks:.1} weeks.",
            capital(what),
            f.change
        ),
        Verdict::Steady => format!(
            "{} of {label} is steady: {rate}; the whole change lies between {:+.1} and {:+.1}{unit}, inside \
             +-{STEADY_MS:.0} ms.",
            capital(what),
            f.change_ci95[0],
            f.change_ci95[1]
        ),
        Verdict::NoneShown => {
            let could = match could_show(metric, f) {
                Some(change) => format!(
                    "These days could have shown a change of {change:.digits$}{unit} or more over the {weeks:.1} weeks \
                     (in 80 of 100 such cases); a smaller one may be there."
                ),
                None => format!("{}.", capital(TOO_UNLIKE)),
            };
            format!("No change shown yet in {what} of {label}: {rate}. {could}")
        }
    }
}

/// Where no change that happens would show.
pub(super) const TOO_UNLIKE: &str = "these days are too few, or differ too much, to show even a change by half";

/// The smallest change that these days would show; `None` where it is more than half of a tempo, which none changes by.
pub(super) fn could_show(metric: Metric, f: &LineFit) -> Option<f64> {
    let half = 0.5 * (f.start_value + 0.5 * f.change).abs();
    (metric != Metric::CleanTempo || f.smallest_change_shown <= half).then_some(f.smallest_change_shown)
}

fn remarks(points: &[TakePoint]) -> Vec<String> {
    const WHY: &str = "Picked bests flatter: they are better than the player usually is, and more tries on one day look \
        like progress.";
    let n = points.len();
    let best = points.iter().filter(|p| p.picked_best == Some(true)).count();
    let unknown = points.iter().filter(|p| p.picked_best.is_none()).count();
    let mut out = Vec::new();
    if best > 0 {
        let were = if best == 1 { "was" } else { "were" };
        let takes = if n == 1 { "take" } else { "takes" };
        out.push(format!("{best} of {n} {takes} {were} kept as the best of several tries. {WHY}"));
    }
    if unknown > 0 {
        let which = match (unknown, n) {
            (1, 1) => "this take".to_owned(),
            (unknown, n) if unknown == n => format!("these {n} takes"),
            _ => format!("{unknown} of these {n} takes"),
        };
        let were = if unknown == 1 { "it was" } else { "they were" };
        let said = format!("Of {which} nobody said whether {were} picked from several tries.");
        out.push(if best > 0 { said } else { format!("{said} {WHY}") });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Figures;

    #[test]
    fn one_take_of_unknown_picking_is_no_plural() {
        let of = |picked: &[Option<bool>]| {
            let point = |picked_best: &Option<bool>| TakePoint {
                take: 1,
                day: 1,
                date: "2026-03-01".to_owned(),
                tempo_bpm: 160.0,
                figures: Figures::default(),
                picked_best: *picked_best,
                take_errors: 0,
                take_notes: 0,
            };
            remarks(&picked.iter().map(point).collect::<Vec<_>>())
        };
        assert!(of(&[None])[0].starts_with("Of this take nobody said whether it was picked"), "{:?}", of(&[None]));
        assert!(of(&[None, None])[0].starts_with("Of these 2 takes nobody said whether they were picked"));
        assert!(of(&[None, Some(false)])[0].starts_with("Of 1 of these 2 takes nobody said whether it was picked"));
        assert!(of(&[Some(true)])[0].starts_with("1 of 1 take was kept as the best"));
    }
}
