//! One value a practice day, and which tempos are alike.

use super::metric::Metric;
use super::point::{TakePoint, middle};
use crate::round::milli;
use crate::score::Unit;
use crate::words::count;
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_stats::Sample;
use takegauge_stats::trend::{Trend, trend as fit};

/// Takes within this share of a tempo are compared with each other: 4 % either way.
pub const LIKE_TEMPO: f64 = 0.04;
/// Below so many practice days nothing is said of a trend.
pub(super) const FEWEST_DAYS: usize = 8;

/// A practice day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
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
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: f64,
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
    let like: Vec<f64> = points.iter().map(|p| p.tempo_bpm).filter(|t| is_like(*t, centre)).collect();
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
        let tempos: Vec<f64> = day.iter().map(|d| d.3).collect();
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

/// The fitted trend of days, whose values have this unit, in weeks since the first; `Err` says why there is none.
pub(crate) fn fit_days(days: &[DayValue], unit: Unit) -> Result<(Trend, Vec<f64>), String> {
    if days.len() < FEWEST_DAYS {
        let n = match days.len() {
            0 => "no practice day".to_owned(),
            n => count(n, "practice day", "practice days"),
        };
        return Err(format!("{n} so far; a trend needs at least {FEWEST_DAYS}"));
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
            Err(format!("all {} practice days have the same value, {} {}", days.len(), days[0].value, unit.name())
                .trim_end()
                .to_owned())
        }
        Err(e) => Err(e.to_string()),
    }
}
