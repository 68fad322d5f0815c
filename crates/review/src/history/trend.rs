//! What weeks of practice changed, and what they could not show.
//!
//! One value a practice day: the median of that day's takes. Slope by Theil-Sen with Gilbert's interval, test by
//! Mann-Kendall, both corrected where successive days resemble each other (see `takegauge_stats::trend`). The first
//! series asked for is the question; the others are corrected for their number (Holm 1979).

use super::point::{TakePoint, middle};
use crate::round::{interval, milli};
use serde::{Deserialize, Serialize};
use takegauge_stats::Sample;
use takegauge_stats::multiple::holm;
use takegauge_stats::trend::{Trend, is_steady, trend as fit};

/// The value of `schema`.
pub const TREND_SCHEMA: &str = "takegauge/trend/1";
/// Takes within this share of a tempo are compared with each other: 4 % either way.
pub const LIKE_TEMPO: f64 = 0.04;
/// Below so many practice days nothing is said of a trend.
const FEWEST_DAYS: usize = 8;
/// A change inside this over the whole span counts as none, ms.
pub(crate) const STEADY_MS: f64 = 2.0;
const ALPHA: f64 = 0.05;

/// What is followed over the days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Metric {
    /// Scatter, ms.
    Spread,
    /// Early (-) or late (+) on average, ms.
    Bias,
    /// SD of inter-onset intervals, ms.
    Evenness,
    /// Missed, wrong and extra notes in 100.
    Errors,
    /// Ringing over, ms.
    Smear,
    /// (limit - |bias|) / spread.
    Margin,
    /// The highest tempo of the day at which a take had no error, bpm; days without such a take do not count.
    CleanTempo,
}

impl Metric {
    /// All of them.
    pub const ALL: [Self; 7] =
        [Self::Spread, Self::Bias, Self::Evenness, Self::Errors, Self::Smear, Self::Margin, Self::CleanTempo];

    /// The name in JSON and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Spread => "spread",
            Self::Bias => "bias",
            Self::Evenness => "evenness",
            Self::Errors => "errors",
            Self::Smear => "smear",
            Self::Margin => "margin",
            Self::CleanTempo => "clean_tempo",
        }
    }

    /// As a player reads it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Spread => "scatter",
            Self::Bias => "early (-) or late (+) on average",
            Self::Evenness => "unevenness of the intervals",
            Self::Errors => "errors in 100 notes",
            Self::Smear => "ringing over",
            Self::Margin => "margin",
            Self::CleanTempo => "highest tempo without an error",
        }
    }

    /// "ms", "bpm" or nothing.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Spread | Self::Bias | Self::Evenness | Self::Smear => "ms",
            Self::CleanTempo => "bpm",
            Self::Errors | Self::Margin => "",
        }
    }

    /// Its value in one take.
    pub fn value(self, p: &TakePoint) -> Option<f64> {
        let f = &p.figures;
        match self {
            Self::Spread => f.spread_ms,
            Self::Bias => f.bias_ms,
            Self::Evenness => f.evenness_ms,
            Self::Errors => (f.reached > 0).then(|| 100.0 * f.errors() as f64 / f.reached as f64),
            Self::Smear => f.smear_ms,
            Self::Margin => f.margin,
            Self::CleanTempo => (p.take_errors == 0 && p.take_notes > 0).then_some(p.tempo_bpm),
        }
    }
}

/// What is asked: one metric of one group of notes.
#[derive(Debug, Clone, Copy)]
pub struct Series<'a> {
    /// The group's name.
    pub group: &'a str,
    /// As a player reads it.
    pub label: &'a str,
    /// What of it.
    pub metric: Metric,
    /// The takes, in the order recorded.
    pub points: &'a [TakePoint],
}

/// `takegauge/trend/1`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrendReport {
    /// [`TREND_SCHEMA`].
    pub schema: String,
    /// Whose.
    pub player: String,
    /// Of which drill.
    pub drill: String,
    /// Takes played from this tempo to that; `None` where all count.
    pub tempo_bpm: Option<[f64; 2]>,
    /// The question first.
    pub rows: Vec<TrendRow>,
    /// What to heed.
    pub remarks: Vec<String>,
}

/// One series.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrendRow {
    /// The group.
    pub group: String,
    /// As a player reads it.
    pub label: String,
    /// Which figure.
    pub metric: Metric,
    /// "ms", "bpm" or nothing.
    pub unit: String,
    /// Takes behind it.
    pub takes: usize,
    /// One a practice day.
    pub days: Vec<DayValue>,
    /// The line; `None` where it is withheld.
    pub fit: Option<LineFit>,
    /// Why no line is drawn.
    pub withheld: Option<String>,
    /// One or two plain sentences.
    pub text: String,
}

/// A practice day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DayValue {
    /// 2026-03-01
    pub date: String,
    /// Days since 1970-01-01.
    pub day: i32,
    /// Median of the day's takes.
    pub value: f64,
    /// How many takes.
    pub takes: usize,
    /// Their median tempo.
    pub tempo_bpm: f64,
}

/// Line and test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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
    pub p: f64,
    /// Corrected for the number of further series; `None` for the question itself.
    pub p_adjusted: Option<f64>,
    /// The smallest change over the span that these days show with a chance of 80 %.
    pub smallest_change_shown: f64,
    /// Likeness of successive days.
    pub autocorrelation: f64,
    /// By how much it widens the variance.
    pub variance_factor: f64,
    /// SD of the days about the line.
    pub day_sd: f64,
    /// "change", "none shown" or "steady".
    pub verdict: String,
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
            if fit.verdict != "steady" || fit.p_adjusted.unwrap_or(fit.p) <= ALPHA {
                let shown = fit.p_adjusted.unwrap_or(fit.p) <= ALPHA;
                fit.verdict = if shown { "change" } else { "none shown" }.to_owned();
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
        rows,
        remarks,
    }
}

/// The tempo around which most practice days lie, within [`LIKE_TEMPO`]; the higher of equals.
pub fn usual_tempo(points: &[TakePoint]) -> Option<f64> {
    let mut best: Option<(usize, f64)> = None;
    let mut tempos: Vec<f64> = points.iter().map(|p| p.tempo_bpm).filter(|t| *t > 0.0).collect();
    tempos.sort_by(f64::total_cmp);
    tempos.dedup_by(|a, b| (*a - *b).abs() < 0.25);
    for t in tempos {
        let mut days: Vec<i32> = points.iter().filter(|p| is_like(p.tempo_bpm, t)).map(|p| p.day).collect();
        days.sort_unstable();
        days.dedup();
        if best.is_none_or(|(n, _)| days.len() >= n) {
            best = Some((days.len(), t));
        }
    }
    // The middle of what lies around it, so that one take does not say where.
    let (_, centre) = best?;
    let mut like: Vec<f64> = points.iter().map(|p| p.tempo_bpm).filter(|t| is_like(*t, centre)).collect();
    like.sort_by(f64::total_cmp);
    middle(&like)
}

/// Whether two tempos are within [`LIKE_TEMPO`] of each other.
pub fn is_like(tempo: f64, of: f64) -> bool {
    (tempo - of).abs() <= LIKE_TEMPO * of
}

/// One value a day: median of the takes (for [`Metric::CleanTempo`] the highest).
pub fn by_day(metric: Metric, points: &[TakePoint]) -> Vec<DayValue> {
    let mut there: Vec<(i32, &str, f64, f64)> = points
        .iter()
        .filter_map(|p| Some((p.day, p.date.as_str(), metric.value(p).filter(|v| v.is_finite())?, p.tempo_bpm)))
        .collect();
    there.sort_by(|a, b| a.0.cmp(&b.0).then(a.2.total_cmp(&b.2)));
    let days = there.chunk_by(|a, b| a.0 == b.0).filter_map(|day| {
        let values: Vec<f64> = day.iter().map(|d| d.2).collect();
        let mut tempos: Vec<f64> = day.iter().map(|d| d.3).collect();
        tempos.sort_by(f64::total_cmp);
        let value = if metric == Metric::CleanTempo { values.last().copied() } else { middle(&values) };
        let (day_number, date, ..) = *day.first()?;
        Some(DayValue {
            date: date.to_owned(),
            day: day_number,
            value: milli(value?)?,
            takes: day.len(),
            tempo_bpm: middle(&tempos).and_then(milli)?,
        })
    });
    days.collect()
}

/// The fitted trend of days in weeks since the first; `Err` says why there is none.
pub(crate) fn fit_days(days: &[DayValue]) -> Result<(Trend, Vec<f64>), String> {
    if days.len() < FEWEST_DAYS {
        let n = days.len();
        return Err(format!(
            "{n} practice day{} so far; a trend needs at least {FEWEST_DAYS}",
            if n == 1 { "" } else { "s" }
        ));
    }
    let first = days[0].day;
    let weeks: Vec<f64> = days.iter().map(|d| f64::from(d.day - first) / 7.0).collect();
    let values: Vec<f64> = days.iter().map(|d| d.value).collect();
    let (Ok(t), Ok(y)) = (Sample::new(&weeks), Sample::new(&values)) else {
        return Err("the days' values are not all numbers".to_owned());
    };
    match fit(t, y, 0.95) {
        Ok(fitted) => Ok((fitted, weeks)),
        Err(takegauge_stats::StatsError::NoSpread) => {
            Err(format!("all {} practice days have the same value, {}", days.len(), days[0].value))
        }
        Err(e) => Err(e.to_string()),
    }
}

fn follow(series: &Series<'_>) -> TrendRow {
    let days = by_day(series.metric, series.points);
    let (fit, withheld) = match fit_days(&days) {
        Ok((fitted, weeks)) => (line(series.metric, &fitted, &weeks, &days), None),
        Err(why) => (None, Some(why)),
    };
    let text = withheld.as_ref().map(|w| format!("{} of {}: {w}.", capital(series.metric.words()), series.label));
    TrendRow {
        group: series.group.to_owned(),
        label: series.label.to_owned(),
        metric: series.metric,
        unit: series.metric.unit().to_owned(),
        takes: days.iter().map(|d| d.takes).sum(),
        days,
        fit,
        withheld,
        text: text.unwrap_or_default(),
    }
}

fn line(metric: Metric, t: &Trend, weeks: &[f64], days: &[DayValue]) -> Option<LineFit> {
    let slope = t.line.slope;
    let span = weeks.last().copied()?;
    let steady = metric.unit() == "ms" && Sample::new(weeks).is_ok_and(|w| is_steady(t, w, STEADY_MS));
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
        verdict: if steady { "steady" } else { "" }.to_owned(),
    })
}

/// To 0.0001: p-values and slopes.
fn milli4(x: f64) -> Option<f64> {
    let r = (x * 1e4).round() / 1e4;
    r.is_finite().then_some(r + 0.0)
}

fn tell(metric: Metric, label: &str, f: &LineFit, days: usize, takes: usize) -> String {
    let unit = if metric.unit().is_empty() { String::new() } else { format!(" {}", metric.unit()) };
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
    match f.verdict.as_str() {
        "change" => format!(
            "{} of {label} changed: {rate}, so {:+.digits$}{unit} over {weeks:.1} weeks.",
            capital(what),
            f.change
        ),
        "steady" => format!(
            "{} of {label} is steady: {rate}; the whole change lies between {:+.1} and {:+.1}{unit}, inside \
             +-{STEADY_MS:.0} ms.",
            capital(what),
            f.change_ci95[0],
            f.change_ci95[1]
        ),
        _ => format!(
            "No change shown yet in {what} of {label}: {rate}. These days could have shown a change of {:.digits$}{unit} \
             or more over the {weeks:.1} weeks (in 80 of 100 such cases); a smaller one may be there.",
            f.smallest_change_shown
        ),
    }
}

fn remarks(points: &[TakePoint]) -> Vec<String> {
    let best = points.iter().filter(|p| p.picked_best).count();
    let mut out = Vec::new();
    if best > 0 {
        out.push(format!(
            "{best} of {} takes were kept as the best of several tries. Picked bests flatter: they are better than the \
             player usually is, and more tries on one day look like progress.",
            points.len()
        ));
    }
    out
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|c| c.to_uppercase().chain(chars).collect()).unwrap_or_default()
}
