//! The sentences of findings: plain words, milliseconds, the number of notes.

use takegauge_stats::{Sample, robust};

use crate::basis::Basis;
use crate::estimates::LEAST_FOR_ESTIMATES;
use crate::score::{FindingRow, Measure};
use crate::told::Subject;
use crate::words::{capital, count};

/// A time of ringing over in whole ms, "33 or less" at the shortest that can be told.
pub fn ringing(ms: f64) -> String {
    format!("{ms:.0}{}", if at_shortest(ms) { " or less" } else { "" })
}

/// Whether a time of ringing over is the shortest that can be told; 0.05 ms is below what is shown.
fn at_shortest(ms: f64) -> bool {
    ms < takegauge_measure::SHORTEST_SMEAR.0 + 0.05
}

fn range(row: &FindingRow, unit: &str) -> String {
    match row.ci95 {
        Some([low, high]) => format!("({low:.1} to {high:.1}{unit}, {})", count(row.n, "note", "notes")),
        None => without_interval(row.n, ""),
    }
}

/// The number of notes and why there is no interval: they are too few, or `why`, where that is known.
fn without_interval(n: usize, why: &str) -> String {
    let notes = count(n, "note", "notes");
    match why {
        _ if n < LEAST_FOR_ESTIMATES => format!("({notes}; too few for an interval)"),
        "" => format!("({notes}; no interval)"),
        why => format!("({notes}; no interval: {why})"),
    }
}

/// A late figure and an early one both read as sizes.
fn sized(row: &FindingRow) -> FindingRow {
    let mut row = row.clone();
    if row.value < 0.0 {
        row.value = -row.value;
        row.ci95 = row.ci95.map(|[low, high]| [-high, -low]);
    }
    row
}

pub(crate) fn bias(subject: &Subject, row: &FindingRow, hearing_limit: Option<f64>) -> String {
    let late = row.value >= 0.0;
    let row = sized(row);
    let one = subject.position.is_some();
    let subject_text = capital(&subject.label());
    let verb = if one { "comes" } else { "come" };
    let value = row.value;
    let mut text = match (&subject.found.against, subject.position) {
        (Some(other), None) => {
            let side = if late { "behind" } else { "ahead of" };
            format!("{subject_text} {verb} {value:.1} ms {side} {other} on average {}.", range(&row, " ms"))
        }
        _ => {
            let side = if late { "late" } else { "early" };
            format!("{subject_text} {verb} {value:.1} ms {side} on average {}.", range(&row, " ms"))
        }
    };
    if let (Some(limit), Some(above)) = (hearing_limit, row.above_hearing_limit) {
        let side = if above { "above" } else { "below" };
        text.push_str(&format!(" That is {side} the hearing limit for one shifted note, {limit:.1} ms."));
    }
    text.push_str(&held(subject));
    text
}

/// `no_interval` says why there is none, where there is none though the notes are enough.
pub(crate) fn spread(subject: &Subject, row: &FindingRow, sds: [Option<f64>; 2], no_interval: &str) -> String {
    let verb = if subject.position.is_some() { "scatters" } else { "scatter" };
    let figures = match sds {
        [Some(a), Some(b)] => format!(", {a:.1} ms against {b:.1} ms"),
        _ => String::new(),
    };
    let more = format!("{:.1} times as much as the rest", row.value);
    let range = if row.ci95.is_some() { range(row, "") } else { without_interval(row.n, no_interval) };
    format!("{} {verb} {more}{figures} {range}.{}", capital(&subject.label()), held(subject))
}

/// `read` is at how many of the notes ringing over was read.
pub(crate) fn smear(basis: &Basis, subject: &Subject, row: &FindingRow, read: usize, rest: f64) -> String {
    let own = |i: &usize| basis.notes[*i].shorter_neighbour;
    let apart: Vec<f64> = subject.members.iter().filter_map(own).collect();
    let past = Sample::new(&apart).is_ok_and(|s| robust::median(s) < row.value);
    let past = if past { ", past the next attack" } else { "" };
    let label = match subject.position {
        Some(_) => format!("At {}", subject.label()),
        None if subject.found.key.is_change() => format!("At {}", subject.label()),
        None => format!("Before {}", subject.label()),
    };
    let or_less = if at_shortest(rest) { " or less" } else { "" };
    let n = count(row.n, "note", "notes");
    // Whole ms, as the figure itself: ringing is not known to tenths.
    let range = match row.ci95 {
        Some([low, high]) => format!("({low:.0} to {high:.0} ms, {n})"),
        None => without_interval(row.n, &format!("it was read at {read} of them only")),
    };
    format!(
        "{label} the string left rings over for {:.0} ms{past}, against {rest:.0} ms{or_less} elsewhere {range}.{}",
        row.value,
        held(subject)
    )
}

pub(crate) fn level(row: &FindingRow) -> String {
    let side = if row.value >= 0.0 { "louder" } else { "quieter" };
    let row = sized(row);
    format!(
        "{} are {:.1} dB {side} than the rest on the same strings {}.",
        capital(&row.label),
        row.value,
        range(&row, " dB")
    )
}

fn what(measure: Measure) -> &'static str {
    match measure {
        Measure::Missed => "not heard",
        Measure::WrongPitch => "heard at another pitch",
        _ => "preceded by an extra attack",
    }
}

pub(crate) fn events(
    subject: &Subject,
    measure: Measure,
    row: &FindingRow,
    hits: usize,
    n: usize,
    total: usize,
) -> String {
    let range = row.ci95.map_or_else(String::new, |[low, high]| format!(" ({low:.0} to {high:.0} in 100)"));
    format!("Of {}, {hits} of {n} were {}{range}; in the whole take it was {total}.", subject.label(), what(measure))
}

pub(crate) fn events_everywhere(measure: Measure, hits: usize, n: usize) -> String {
    format!("{hits} of {n} notes were {}, at no one kind of note more than at others.", what(measure))
}

/// What the place check says, as a sentence to add.
fn held(subject: &Subject) -> String {
    let found = subject.found;
    let inside = found.places.inside;
    if subject.position.is_some() {
        return format!(" The other {} do not show it.", found.label);
    }
    if inside == 1 && found.key.is_change() {
        return " They stand at one place of the line, so this take cannot tell the change from its fingering.".into();
    }
    if inside > 1 { format!(" It holds across {inside} places of the line.") } else { String::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_there_is_no_interval_the_reason_stands_in_its_place() {
        let why = "each of their places was played once";
        assert_eq!(without_interval(7, why), "(7 notes; too few for an interval)");
        assert_eq!(without_interval(12, why), "(12 notes; no interval: each of their places was played once)");
        assert_eq!(without_interval(12, ""), "(12 notes; no interval)");
    }
}
