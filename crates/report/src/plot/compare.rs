//! Two sets of takes over each other: how early or late each kind of note is in either, and how much it scatters.

use super::canvas::{PlotError, render};
use super::changes::{Point, Rows, panels};
use super::{Format, Size};
use takegauge_review::GroupKey;
use takegauge_review::history::{CompareReport, CompareRow, Metric};

/// Most rows a plot has room for.
const ROWS: usize = 16;

/// Draws the kinds of note of both sets, the first hollow, the second filled.
///
/// # Errors
/// [`PlotError::Nothing`] where no kind of note has a figure in either set.
pub fn compare_plot(report: &CompareReport, size: Size, format: Format) -> Result<Vec<u8>, PlotError> {
    let told = |r: &&CompareRow| r.measure == Metric::BIAS || r.measure == Metric::SPREAD;
    let mut groups: Vec<(GroupKey, &str)> = Vec::new();
    for r in report.rows.iter().filter(told) {
        if groups.len() < ROWS && groups.iter().all(|(g, _)| *g != r.group) {
            groups.push((r.group, &r.label));
        }
    }
    if groups.is_empty() {
        return Err(PlotError::Nothing("the sets share no kind of note with a figure"));
    }
    let points = |metric: Metric, second: bool| -> Vec<Option<Point>> {
        let row = |g: GroupKey| report.rows.iter().find(|r| r.group == g && r.measure == metric);
        groups.iter().map(|(g, _)| row(*g).and_then(|r| point(r, second))).collect()
    };
    let series = [false, true].map(|second| (points(Metric::BIAS, second), points(Metric::SPREAD, second)));
    let (title, what) = match (report.first.as_slice(), report.second.as_slice()) {
        ([a], [b]) => (format!("Take {a} and take {b}, kind of note by kind of note"), "take"),
        _ => ("Two sets of takes, kind of note by kind of note".to_owned(), "set"),
    };
    let ranges = if report.rows.iter().any(|r| told(&r) && (r.first_ci95.is_some() || r.second_ci95.is_some())) {
        "Lines are 95 % intervals that hold how much takes differ on their own."
    } else {
        "Without lines: how much takes differ on their own is not known."
    };
    let plot = Rows {
        title,
        below: format!("Hollow: the first {what} (A), above; filled: the second (B), below. {ranges}"),
        labels: groups.iter().map(|(_, label)| (*label).to_owned()).collect(),
        panels: panels(&series),
    };
    render(&plot, size, format)
}

fn point(row: &CompareRow, second: bool) -> Option<Point> {
    let (value, ends) = if second { (row.second, row.second_ci95) } else { (row.first, row.first_ci95) };
    Some((value?, ends.map(|e| e[0]), ends.map(|e| e[1])))
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_review::Unit;

    fn report(first: &[i64], interval: Option<[f64; 2]>) -> CompareReport {
        let row = CompareRow {
            group: GroupKey::Change,
            label: "string changes".to_owned(),
            measure: Metric::BIAS,
            unit: Unit::Milliseconds,
            first: Some(6.0),
            second: Some(2.0),
            first_ci95: interval,
            second_ci95: interval,
            difference: Some(-4.0),
            ci95: None,
            p: None,
            p_adjusted: None,
            take_sd: None,
            takes: 2,
            withheld: None,
        };
        let schema = takegauge_review::history::COMPARE_SCHEMA.to_owned();
        CompareReport { schema, first: first.to_vec(), second: vec![9], rows: vec![row], text: Vec::new() }
    }

    #[test]
    fn the_caption_says_what_is_drawn_of_one_take_and_of_several() {
        let svg = |report| String::from_utf8(compare_plot(&report, Size::default(), Format::Svg).unwrap()).unwrap();
        let one = svg(report(&[4], None));
        assert!(one.contains("Take 4 and take 9") && one.contains("the first take (A)"), "{one}");
        assert!(one.contains("is not known") && !one.contains("Lines are 95 %"));
        let several = svg(report(&[4, 5], Some([1.0, 3.0])));
        assert!(several.contains("Two sets of takes") && several.contains("Lines are 95 %"));
    }
}
