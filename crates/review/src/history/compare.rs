//! Two takes, or two sets of takes, held against how much takes differ on their own.
//!
//! An interval from within a take alone calls most unchanged pairs different; the take-to-take variance of the same
//! drill's other takes enters every difference (`takegauge_stats::takes`). All rows are corrected together (Holm 1979).

use super::metric::Metric;
use super::point::TakePoint;
use crate::Figures;
use crate::declared::REACHED;
use crate::group_key::GroupKey;
use crate::round::{interval, milli};
use crate::score::Unit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use takegauge_stats::Sample;
use takegauge_stats::multiple::holm;
use takegauge_stats::takes::{TakeFigure, TakeVariance, compare_takes, take_variance};

/// The value of `schema`.
pub const COMPARE_SCHEMA: &str = "takegauge/compare/1";
/// Half width of a normal 95 % interval in standard errors.
const REACH: f64 = 1.96;
/// Takes that the take-to-take variance needs.
const FEWEST_TAKES: usize = 5;

/// One group in all takes of the drill at like tempo, those to compare included, in the order recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupHistory {
    /// Which notes.
    pub group: GroupKey,
    /// As a player reads it.
    pub label: String,
    /// The takes.
    pub points: Vec<TakePoint>,
}

/// `takegauge/compare/1`
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize, Deserialize)]
pub struct CompareReport {
    /// [`COMPARE_SCHEMA`].
    #[schemars(extend("const" = COMPARE_SCHEMA))]
    pub schema: String,
    /// Takes of the first set.
    pub first: Vec<i64>,
    /// Takes of the second.
    pub second: Vec<i64>,
    /// One a group and measure.
    pub rows: Vec<CompareRow>,
    /// Plain sentences.
    pub text: Vec<String>,
}

/// A difference, second less first.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize, Deserialize)]
pub struct CompareRow {
    /// The group.
    pub group: GroupKey,
    /// As a player reads it.
    #[schemars(length(min = 1))]
    pub label: String,
    /// Bias, spread or errors.
    pub measure: Metric,
    /// Of the figures.
    pub unit: Unit,
    /// Mean of the first set.
    pub first: Option<f64>,
    /// Mean of the second.
    pub second: Option<f64>,
    /// Second less first.
    pub difference: Option<f64>,
    /// 95 % interval, take-to-take variance included.
    pub ci95: Option<[f64; 2]>,
    /// Two-sided p.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub p: Option<f64>,
    /// Corrected over all rows.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub p_adjusted: Option<f64>,
    /// How much takes differ on their own, SD.
    #[schemars(range(min = 0.0))]
    pub take_sd: Option<f64>,
    /// Takes behind that.
    pub takes: usize,
    /// Why there is no interval.
    pub withheld: Option<String>,
}

/// A take's figure with its standard error, from its interval; errors from their number.
fn of_take(metric: Metric, figures: &Figures) -> Option<TakeFigure> {
    let Metric::Figure(figure) = metric else {
        let n = figures.count(&REACHED) as f64;
        // Half an error added, so that a take without one does not claim to be exact.
        let p = (figures.errors() as f64 + 0.5) / (n + 1.0);
        let se = 100.0 * (p * (1.0 - p).max(0.0) / n).sqrt();
        return (n > 0.0).then(|| TakeFigure { value: 100.0 * figures.errors() as f64 / n, standard_error: se });
    };
    let value = figures.value(figure)?;
    let standard_error = match figures.ends(figure)? {
        [Some(low), Some(high)] => (high - low) / (2.0 * REACH),
        // Where the interval reaches 0 only its upper end is told.
        [None, Some(high)] => (high - value).max(0.0) / REACH,
        _ => return None,
    };
    Some(TakeFigure { value, standard_error })
}

/// Compares two sets of takes group by group.
pub fn compare(first: &[i64], second: &[i64], groups: &[GroupHistory]) -> CompareReport {
    let mut rows: Vec<CompareRow> =
        groups.iter().flat_map(|g| Metric::compared().filter_map(move |m| row(g, m, first, second))).collect();
    let p: Vec<f64> = rows.iter().filter_map(|r| r.p).collect();
    let mut adjusted = holm(&p).unwrap_or_default().into_iter();
    for row in rows.iter_mut().filter(|r| r.p.is_some()) {
        row.p_adjusted = adjusted.next().and_then(milli);
    }
    let text = tell(&rows, first, second, groups);
    CompareReport { schema: COMPARE_SCHEMA.to_owned(), first: first.to_vec(), second: second.to_vec(), rows, text }
}

/// `None` where neither set has the figure.
fn row(group: &GroupHistory, metric: Metric, first: &[i64], second: &[i64]) -> Option<CompareRow> {
    let get = |p: &TakePoint| of_take(metric, &p.figures);
    let of = |set: &[i64]| -> Vec<TakeFigure> {
        group.points.iter().filter(|p| set.contains(&p.take)).filter_map(get).collect()
    };
    let (a, b) = (of(first), of(second));
    if a.is_empty() && b.is_empty() {
        return None;
    }
    let all: Vec<TakeFigure> = group.points.iter().filter_map(get).collect();
    let between = variance(&all);
    let mean = |set: &[TakeFigure]| {
        (!set.is_empty()).then(|| set.iter().map(|f| f.value).sum::<f64>() / set.len() as f64).and_then(milli)
    };
    let mut row = CompareRow {
        group: group.group,
        label: group.label.clone(),
        measure: metric,
        unit: if metric == Metric::Errors { Unit::InHundredNotes } else { metric.unit() },
        first: mean(&a),
        second: mean(&b),
        difference: mean(&a).zip(mean(&b)).and_then(|(a, b)| milli(b - a)),
        ci95: None,
        p: None,
        p_adjusted: None,
        take_sd: between.as_ref().ok().and_then(|v| milli(v.variance.max(0.0).sqrt())),
        takes: all.len(),
        withheld: None,
    };
    match between {
        Err(why) => row.withheld = Some(why),
        Ok(_) if a.is_empty() || b.is_empty() => row.withheld = Some("only one of the sets has it".to_owned()),
        Ok(v) => match compare_takes(&a, &b, v, 0.95) {
            Ok(d) => {
                let i = d.difference.interval;
                row.ci95 = interval(i.low, i.high);
                row.p = Some(d.p).filter(|p| (0.0..=1.0).contains(p));
            }
            Err(_) => row.withheld = Some("neither takes nor their errors vary".to_owned()),
        },
    }
    Some(row)
}

fn variance(all: &[TakeFigure]) -> Result<TakeVariance, String> {
    let too_few = || {
        format!(
            "{} takes of this drill at like tempo; how much takes differ on their own needs {FEWEST_TAKES}, so practice \
             cannot be told from luck",
            all.len()
        )
    };
    let values: Vec<f64> = all.iter().map(|f| f.value).collect();
    let errors: Vec<f64> = all.iter().map(|f| f.standard_error).collect();
    if all.len() < FEWEST_TAKES {
        return Err(too_few());
    }
    let samples = Sample::new(&values).and_then(|v| Ok((v, Sample::new(&errors)?)));
    samples.and_then(|(v, e)| take_variance(v, e)).map_err(|_| too_few())
}

fn tell(rows: &[CompareRow], first: &[i64], second: &[i64], groups: &[GroupHistory]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let shown: Vec<&CompareRow> = rows.iter().filter(|r| r.p_adjusted.is_some_and(|p| p <= 0.05)).collect();
    let tested = rows.iter().filter(|r| r.p.is_some()).count();
    for r in &shown {
        if let (Some(d), Some([low, high])) = (r.difference, r.ci95) {
            let what = if r.measure == Metric::Errors { "errors" } else { r.measure.words() };
            out.push(format!(
                "{}: {what} {d:+.1} {} (95 %: {low:+.1} to {high:+.1}), beyond how much takes differ on their own.",
                r.label,
                r.unit.name()
            ));
        }
    }
    if tested == 0 {
        let why = rows.iter().find_map(|r| r.withheld.as_deref()).unwrap_or("the takes share no group of notes");
        out.push(format!("Cannot tell: {why}."));
    } else if shown.is_empty() {
        out.push(format!(
            "No difference shown: none of {tested} differences is beyond how much takes differ on their own, corrected \
             for their number."
        ));
    }
    let tempo = |set: &[i64]| -> Option<f64> {
        let points = &groups.first()?.points;
        let t: Vec<f64> = points.iter().filter(|p| set.contains(&p.take)).map(|p| p.tempo_bpm).collect();
        (!t.is_empty()).then(|| t.iter().sum::<f64>() / t.len() as f64)
    };
    if let (Some(a), Some(b)) = (tempo(first), tempo(second))
        && !super::days::is_like(b, a)
    {
        out.push(format!(
            "The sets were not played at like tempo ({a:.0} and {b:.0} bpm): a difference may be the tempo's."
        ));
    }
    out
}
