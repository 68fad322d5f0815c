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
    let plot = Rows {
        title: "Two sets of takes, kind of note by kind of note".to_owned(),
        below: "Hollow: the first set, above; filled: the second, below. Lines are 95 % intervals that hold how much takes \
                differ on their own."
            .to_owned(),
        labels: groups.iter().map(|(_, label)| (*label).to_owned()).collect(),
        panels: panels(&series),
    };
    render(&plot, size, format)
}

fn point(row: &CompareRow, second: bool) -> Option<Point> {
    let (value, ends) = if second { (row.second, row.second_ci95) } else { (row.first, row.first_ci95) };
    Some((value?, ends.map(|e| e[0]), ends.map(|e| e[1])))
}
