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
use crate::words::{capital, early_late};
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::f64::consts::SQRT_2;
use takegauge_stats::Sample;
use takegauge_stats::multiple::holm;
use takegauge_stats::takes::{TakeFigure, TakeVariance, compare_takes, take_variance};

/// The value of `schema`.
pub const COMPARE_SCHEMA: &str = "takegauge/compare/1";
/// Half width of a normal 95 % interval in standard errors.
const REACH: f64 = 1.96;
/// What a normal deviate exceeds with a chance of 20 %.
const POWER: f64 = 0.842;
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct CompareReport {
    /// [`COMPARE_SCHEMA`].
    #[cfg_attr(feature = "schemas", schemars(extend("const" = COMPARE_SCHEMA)))]
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct CompareRow {
    /// The group.
    pub group: GroupKey,
    /// As a player reads it.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub label: String,
    /// Bias, spread or errors.
    pub measure: Metric,
    /// Of the figures.
    pub unit: Unit,
    /// Mean of the first set.
    pub first: Option<f64>,
    /// Mean of the second.
    pub second: Option<f64>,
    /// 95 % interval of the first mean, take-to-take variance included.
    #[serde(default)]
    pub first_ci95: Option<[f64; 2]>,
    /// The same of the second.
    #[serde(default)]
    pub second_ci95: Option<[f64; 2]>,
    /// Second less first.
    pub difference: Option<f64>,
    /// 95 % interval, take-to-take variance included.
    pub ci95: Option<[f64; 2]>,
    /// Two-sided p.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0, max = 1.0)))]
    pub p: Option<f64>,
    /// Corrected over all rows.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0, max = 1.0)))]
    pub p_adjusted: Option<f64>,
    /// How much takes differ on their own, SD.
    #[cfg_attr(feature = "schemas", schemars(range(min = 0.0)))]
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

/// Kinds of note that are compared; single pairs and places would only weaken the answer on these.
pub fn compared(key: GroupKey) -> bool {
    key.is_kind() || key == GroupKey::WholeTake
}

/// Compares two sets of takes kind by kind.
pub fn compare(first: &[i64], second: &[i64], groups: &[GroupHistory]) -> CompareReport {
    let mut rows: Vec<CompareRow> = groups
        .iter()
        .filter(|g| compared(g.group))
        .flat_map(|g| Metric::compared().filter_map(move |m| row(g, m, first, second)))
        .collect();
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
        first_ci95: None,
        second_ci95: None,
        difference: mean(&a).zip(mean(&b)).and_then(|(a, b)| milli(b - a)),
        ci95: None,
        p: None,
        p_adjusted: None,
        take_sd: between.as_ref().ok().and_then(|v| milli(v.variance.max(0.0).sqrt())),
        takes: all.len(),
        withheld: None,
    };
    if let Ok(v) = &between {
        row.first_ci95 = alone(&a, *v);
        row.second_ci95 = alone(&b, *v);
    }
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

/// The interval of one set's mean: it is held against itself, which has twice its variance.
fn alone(set: &[TakeFigure], between: TakeVariance) -> Option<[f64; 2]> {
    let i = compare_takes(set, set, between, 0.95).ok()?.difference.interval;
    let (mean, reach) = (set.iter().map(|f| f.value).sum::<f64>() / set.len() as f64, 0.5 * (i.high - i.low));
    interval(mean - reach / SQRT_2, mean + reach / SQRT_2)
}

fn variance(all: &[TakeFigure]) -> Result<TakeVariance, String> {
    let too_few = || {
        format!(
            "{} of this drill at like tempo; how much takes differ on their own needs {FEWEST_TAKES}, so practice \
             cannot be told from luck",
            if all.len() == 1 { "1 take".to_owned() } else { format!("{} takes", all.len()) }
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

impl CompareRow {
    /// Whether it differs by more than takes differ on their own, corrected.
    pub fn differs(&self) -> bool {
        self.p_adjusted.is_some_and(|p| p <= 0.05)
    }

    /// The smallest difference that would be seen with a chance of 80 %, before the correction.
    pub fn smallest_shown(&self) -> Option<f64> {
        let [low, high] = self.ci95?;
        milli(0.5 * (high - low) * (REACH + POWER) / REACH)
    }
}

/// "take" where either set is one, else "set".
fn called(first: &[i64], second: &[i64]) -> &'static str {
    if first.len() == 1 && second.len() == 1 { "take" } else { "set" }
}

/// A difference in the players' words; `of` is what is compared.
fn difference(r: &CompareRow, of: &str) -> Option<String> {
    let (a, b, d, [low, high]) = (r.first?, r.second?, r.difference?, r.ci95?);
    let label = capital(&r.label);
    let sure = format!("a difference of {d:+.1} (95 %: {low:+.1} to {high:+.1}) {}", r.unit.name());
    Some(if r.measure == Metric::BIAS {
        format!("{label} come {} on average in the second {of}, {} in the first: {sure}.", early_late(b), early_late(a))
    } else if r.measure == Metric::Errors {
        format!("{label} go wrong {b:.1} times in 100 in the second {of}, {a:.1} times in the first: {sure}.")
    } else {
        let unit = r.unit.name();
        format!("{label}: {} {b:.1} {unit} in the second {of}, {a:.1} {unit} in the first: {sure}.", r.measure.words())
    })
}

fn word(m: Metric) -> &'static str {
    match m {
        Metric::Errors => "errors",
        m if m == Metric::BIAS => "lateness",
        m => m.words(),
    }
}

/// "lateness, scatter and errors": what was held against each other, in the order of the rows.
fn looked_at(rows: &[CompareRow]) -> String {
    let mut words: Vec<&str> = Vec::new();
    for r in rows {
        if !words.contains(&word(r.measure)) {
            words.push(word(r.measure));
        }
    }
    match words.split_last() {
        Some((last, first)) if !first.is_empty() => format!("{} and {last}", first.join(", ")),
        _ => words.concat(),
    }
}

/// What could have been seen of the string changes, or of all notes.
fn could_show(rows: &[CompareRow]) -> Option<String> {
    let of = |g: GroupKey| rows.iter().filter(|r| r.group == g && !r.differs()).collect::<Vec<_>>();
    let main = Some(of(GroupKey::Change)).filter(|m| !m.is_empty()).unwrap_or_else(|| of(GroupKey::WholeTake));
    let told: Vec<String> = main
        .iter()
        .filter_map(|r| Some(format!("{} of {:.1} {}", word(r.measure), r.smallest_shown()?, r.unit.name())))
        .collect();
    let label = &main.first()?.label;
    (!told.is_empty()).then(|| {
        format!(
            "In {label} a difference in {} would most likely have been seen (a chance of 80 %).",
            told.join(", in ")
        )
    })
}

fn tell(rows: &[CompareRow], first: &[i64], second: &[i64], groups: &[GroupHistory]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut shown: Vec<&CompareRow> = rows.iter().filter(|r| r.differs()).collect();
    shown.sort_by(|a, b| a.p.unwrap_or(1.0).total_cmp(&b.p.unwrap_or(1.0)));
    let tested = rows.iter().filter(|r| r.p.is_some()).count();
    let of = called(first, second);
    out.extend(shown.iter().filter_map(|r| difference(r, of)));
    if tested == 0 {
        let why = rows.iter().find_map(|r| r.withheld.as_deref()).unwrap_or("the takes share no group of notes");
        out.push(format!("Cannot tell: {why}."));
    } else {
        let kinds = rows.iter().map(|r| r.group).collect::<std::collections::BTreeSet<_>>().len();
        let first = if shown.is_empty() { "No difference is shown" } else { "No other difference is shown" };
        out.push(format!(
            "{first}: {} of {kinds} kinds of notes were looked at ({tested} figures, corrected for their number), each \
             against how much takes differ on their own.",
            looked_at(rows)
        ));
        out.extend(could_show(rows));
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
            "The {of}s were not played at like tempo ({a:.0} and {b:.0} bpm): a difference may be the tempo's."
        ));
    }
    out
}
