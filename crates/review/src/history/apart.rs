//! Two ladders of one line, weeks apart: from which tempo a kind of note came apart then, and now.

use crate::ladder::{LadderGroupRow, LadderReport};
use crate::words::capital;

/// Where a kind comes apart: its row, the tempo, its interval.
type Apart<'a> = (&'a LadderGroupRow, f64, [f64; 2]);

fn named(report: &LadderReport) -> Vec<Apart<'_>> {
    let of = |row| -> Option<Apart<'_>> {
        let row: &LadderGroupRow = row;
        Some((row, row.comes_apart_bpm?, row.comes_apart_ci95_bpm?))
    };
    report.groups.iter().filter_map(of).collect()
}

fn top(report: &LadderReport) -> f64 {
    report.tempos.last().map_or(0.0, |t| t.tempo_bpm)
}

fn range([low, high]: [f64; 2]) -> String {
    format!("95 %: {low:.0} to {high:.0}")
}

/// What the ladder of an earlier day and that of a later one say together, each with its date; nothing where no kind of
/// note came apart on either.
pub fn came_apart((then, first): (&str, &LadderReport), (now, last): (&str, &LadderReport)) -> Option<String> {
    let (before, after) = (named(first), named(last));
    let both = after.iter().find_map(|a| before.iter().find(|b| b.0.group == a.0.group).map(|b| (b, a)));
    if let Some(((row, was, of_was), (_, is, of_is))) = both {
        let apart = of_was[1] < of_is[0] || of_is[1] < of_was[0];
        let sure = if apart { "beyond both ranges" } else { "the ranges overlap, so no change is shown" };
        return Some(format!(
            "{} came apart from {was:.0} bpm on {then} ({}), from {is:.0} bpm on {now} ({}): {sure}.",
            capital(&row.label),
            range(*of_was),
            range(*of_is)
        ));
    }
    match (before.first(), after.first()) {
        (Some((row, was, of_was)), _) => Some(format!(
            "{} came apart from {was:.0} bpm on {then} ({}); on {now}, up to {:.0} bpm, that is not shown.",
            capital(&row.label),
            range(*of_was),
            top(last)
        )),
        (None, Some((row, is, of_is))) => Some(format!(
            "{} came apart from {is:.0} bpm on {now} ({}); on {then}, up to {:.0} bpm, that is not shown.",
            capital(&row.label),
            range(*of_is),
            top(first)
        )),
        (None, None) => None,
    }
}
