//! What changed most: every kind of note and every figure at once, corrected for their number (Holm 1979).
//!
//! The first row is the best supported change, the largest against its own uncertainty among those beyond chance (a kind
//! of note before the take that is made of them); where nothing is, the main figure and the smallest change that these days would have shown.

use super::compare::GroupHistory;
use super::metric::Metric;
use super::point::TakePoint;
use super::trend::{LineFit, Series, TOO_UNLIKE, TrendReport, TrendRow, Verdict, could_show, trend};
use crate::declared::EVENNESS;
use crate::group_key::GroupKey;
use crate::score::Unit;
use crate::words::{capital, early_late};
use takegauge_stats::multiple::holm;

/// Chance of any change told where none is.
const ALPHA: f64 = 0.05;
/// Rows told beside the first.
const MOST_OTHERS: usize = 3;

/// Kinds of note that are asked about: not each pair, which would drown the rest.
pub fn asked_about(key: GroupKey) -> bool {
    matches!(
        key,
        GroupKey::SameString | GroupKey::Change | GroupKey::Kind(_) | GroupKey::Stroke(_) | GroupKey::WholeTake
    )
}

/// Figures that say something by themselves: a margin is made of two others, and the highest clean tempo has a series of
/// its own.
fn asked_for(metric: Metric) -> bool {
    metric != Metric::MARGIN && metric != Metric::CleanTempo
}

/// Follows all kinds of `histories` in all figures; `every_tempo` holds the whole takes at any tempo, for the figure that
/// has none of its own.
pub fn what_changed(
    player: &str,
    drill: &str,
    tempo_bpm: Option<[f64; 2]>,
    histories: &[GroupHistory],
    every_tempo: &[TakePoint],
) -> TrendReport {
    let mut series: Vec<Series<'_>> = Vec::new();
    for h in histories.iter().filter(|h| asked_about(h.group)) {
        let whole = h.group == GroupKey::WholeTake;
        for metric in Metric::all().into_iter().filter(|m| asked_for(*m)) {
            // Only the whole take has an evenness that all notes share.
            let fits = metric != Metric::Figure(&EVENNESS) || whole;
            if fits && h.points.iter().any(|p| metric.value(p).is_some()) {
                series.push(Series { group: h.group, label: &h.label, metric, points: &h.points });
            }
        }
    }
    series.push(Series {
        group: GroupKey::WholeTake,
        label: "all takes, at any tempo",
        metric: Metric::CleanTempo,
        points: every_tempo,
    });
    let mut report = trend(player, drill, tempo_bpm, &series);
    let asked = correct(&mut report.rows);
    let mut changed: Vec<TrendRow> = report.rows.iter().filter(|r| is_change(r)).cloned().collect();
    changed.sort_by(|a, b| made_of_kinds(a).cmp(&made_of_kinds(b)).then(support(b).total_cmp(&support(a))));
    let main = main_row(&report.rows).cloned();
    let mut text: Vec<String> = stayed(&report.rows, &changed, asked).into_iter().collect();
    text.extend(report.rows.iter().find(|r| r.metric == Metric::CleanTempo && !is_change(r)).and_then(clean_tempo));
    report.rows = match changed.is_empty() {
        true => main.into_iter().collect(),
        false => changed,
    };
    report.headline = headline(report.rows.first(), asked);
    report.rows.truncate(1 + MOST_OTHERS);
    for row in &mut report.rows {
        row.text = plain(row).unwrap_or_else(|| row.text.clone());
    }
    report.text = text;
    report
}

/// Corrects over all rows with a line; how many there are.
fn correct(rows: &mut [TrendRow]) -> usize {
    let p: Vec<f64> = rows.iter().filter_map(|r| r.fit.as_ref().map(|f| f.p)).collect();
    let adjusted = holm(&p).unwrap_or_default();
    let fits = rows.iter_mut().filter_map(|r| r.fit.as_mut());
    for (fit, p) in fits.zip(adjusted) {
        fit.p_adjusted = Some((p * 1e4).round() / 1e4);
        if p <= ALPHA {
            fit.verdict = Verdict::Change;
        } else if fit.verdict == Verdict::Change {
            fit.verdict = Verdict::NoneShown;
        }
    }
    p.len()
}

fn is_change(row: &TrendRow) -> bool {
    row.fit.as_ref().is_some_and(|f| f.verdict == Verdict::Change)
}

/// Scatter and unevenness of the whole take are made of what its kinds of note do: told after those, whatever the
/// support, so that the cause stands before what it brings about.
fn made_of_kinds(row: &TrendRow) -> bool {
    row.group == GroupKey::WholeTake && row.metric != Metric::CleanTempo
}

/// Size of a change against half its interval.
fn support(row: &TrendRow) -> f64 {
    let of = |f: &LineFit| f.change.abs() / (0.5 * (f.change_ci95[1] - f.change_ci95[0])).max(1e-9);
    row.fit.as_ref().map_or(0.0, of)
}

/// What a player would ask about first: the string changes' scatter, else the take's.
fn main_row(rows: &[TrendRow]) -> Option<&TrendRow> {
    let with = |g: GroupKey| rows.iter().find(|r| r.group == g && r.metric == Metric::SPREAD && !r.days.is_empty());
    with(GroupKey::Change).or_else(|| with(GroupKey::WholeTake)).or(rows.first())
}

fn headline(row: Option<&TrendRow>, asked: usize) -> String {
    let Some(row) = row else { return String::new() };
    match (&row.fit, plain(row)) {
        (Some(f), Some(text)) if f.verdict == Verdict::Change => text,
        (Some(f), _) => {
            let (from, to) = ends(row);
            let (what, unit) = (row.metric.words(), unit(row.metric));
            let could = match could_show(row.metric, f) {
                Some(change) => {
                    format!(
                        "In {what} of {} these days would have shown a change of {change:.1}{unit} or more",
                        row.label
                    )
                }
                None => format!("Of the {what} of {}, {TOO_UNLIKE}", row.label),
            };
            format!("No change is shown between {from} and {to} in any of {asked} figures. {could}.")
        }
        (None, _) => row.text.clone(),
    }
}

/// The figure that has no tempo of its own, where it shows no change: from its first day to its last.
fn clean_tempo(row: &TrendRow) -> Option<String> {
    let (first, last) = (row.days.first()?, row.days.last()?);
    let shown = if row.fit.is_some() { " (no change beyond chance)" } else { "" };
    (row.days.len() > 1).then(|| {
        format!(
            "The {}, over all tempos: {:.0} bpm on {}, {:.0} bpm on {}{shown}.",
            row.metric.words(),
            first.value,
            first.date,
            last.value,
            last.date
        )
    })
}

fn ends(row: &TrendRow) -> (&str, &str) {
    (row.days.first().map_or("", |d| &d.date), row.days.last().map_or("", |d| &d.date))
}

fn unit(metric: Metric) -> String {
    if metric.unit() == Unit::None { String::new() } else { format!(" {}", metric.unit().name()) }
}

/// A change as one sentence with its dates.
fn plain(row: &TrendRow) -> Option<String> {
    let f = row.fit.as_ref().filter(|f| f.verdict == Verdict::Change)?;
    let (from, to) = ends(row);
    let (start, end) = (f.start_value, f.start_value + f.change);
    let p = f.p_adjusted.unwrap_or(f.p);
    let p = if p < 0.001 { "p < 0.001".to_owned() } else { format!("p = {p:.3}") };
    let u = unit(row.metric);
    let sure = format!(
        "the change is {:+.1}{u} (95 %: {:+.1} to {:+.1}; {p}, corrected; {} days)",
        f.change,
        f.change_ci95[0],
        f.change_ci95[1],
        row.days.len()
    );
    Some(match row.metric == Metric::BIAS {
        true => {
            let way = match (end.abs() < start.abs(), start < 0.0, f.change < 0.0) {
                (true, true, _) => "less early",
                (true, false, _) => "less late",
                (false, _, true) => "earlier",
                (false, _, false) => "later",
            };
            format!(
                "{} come {way} than before: {} on average on {from}, {} on {to}; {sure}.",
                capital(&row.label),
                early_late(start),
                early_late(end)
            )
        }
        false => {
            let way = if f.change < 0.0 { "fell" } else { "rose" };
            let digits = if row.metric == Metric::CleanTempo { 0 } else { 1 };
            format!(
                "{} of {} {way} from {start:.digits$} on {from} to {end:.digits$}{u} on {to}; {sure}.",
                capital(row.metric.words()),
                row.label
            )
        }
    })
}

/// What was looked at and shows nothing, in one sentence; nothing where nothing changed or all did.
fn stayed(rows: &[TrendRow], changed: &[TrendRow], asked: usize) -> Option<String> {
    let first = changed.first()?;
    let rest = asked.saturating_sub(changed.len());
    let told = |r: &TrendRow| {
        let f = r.fit.as_ref().filter(|_| r.group == first.group && r.metric != first.metric && !is_change(r))?;
        let would = could_show(r.metric, f).map(|change| format!(" (would show {change:.1}{})", unit(r.metric)));
        Some(format!("{}{}", r.metric.words(), would.unwrap_or_default()))
    };
    let named: Vec<String> = rows.iter().filter_map(told).collect();
    let told = if named.is_empty() { String::new() } else { format!("; of the same notes: {}", named.join(", ")) };
    (rest > 0).then(|| format!("No change is shown in {rest} other figures{told}."))
}
