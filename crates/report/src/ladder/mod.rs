//! One drill at rising tempos, as text, CSV, plot and HTML.

mod html;
mod plot;

pub use html::ladder_html;
pub use plot::ladder_plot;

use crate::csv::{csv_line, number};
use crate::text::Style;
use crate::words::{count, signed};
use crate::{Align, Table};
use takegauge_review::{LadderGroupRow, LadderReport};

/// The groups that a ladder's short tables and plots show, in this order.
const MAIN: [&str; 6] = ["same string", "inside", "outside", "sweep", "same-stroke", "change"];

/// Most groups side by side.
const SHOWN: usize = 4;

/// Groups shown side by side: those that come apart first, then the usual ones.
pub(crate) fn main_groups(report: &LadderReport) -> Vec<&LadderGroupRow> {
    let apart = report.groups.iter().filter(|g| g.comes_apart_bpm.is_some());
    let usual = MAIN.iter().filter_map(|name| report.groups.iter().find(|g| g.group == *name));
    let mut out: Vec<&LadderGroupRow> = Vec::new();
    for g in apart.chain(usual) {
        let has_figures = g.by_tempo.iter().any(|t| t.spread_ms.is_some());
        if has_figures && out.len() < SHOWN && !out.iter().any(|o| o.group == g.group) {
            out.push(g);
        }
    }
    let place = |g: &LadderGroupRow| MAIN.iter().position(|m| *m == g.group).unwrap_or(MAIN.len());
    out.sort_by_key(|g| place(g));
    out
}

/// The report for the terminal: what was found, then milliseconds against tempo.
pub fn ladder_text(report: &LadderReport, style: Style) -> String {
    let mut out = style.wrap(&format!("{}: {}", report.drill, count(report.takes.len(), "take", "takes")), "", "");
    for remark in &report.remarks {
        out.push_str(&style.item(remark));
    }
    let groups = main_groups(report);
    out.push_str(&style.heading("By tempo (ms; + is late against the notes on the same string, scatter beside it)"));
    let mut names: Vec<String> = vec!["bpm".into(), "notes".into(), "errors".into(), "at most in 100".into()];
    for g in &groups {
        names.extend([format!("{}:", g.group), "scatter".to_owned()]);
    }
    let columns: Vec<(&str, Align)> = names.iter().map(|n| (n.as_str(), Align::Right)).collect();
    let mut table = Table::new(&columns);
    for (i, t) in report.tempos.iter().enumerate() {
        let mut cells = vec![
            format!("{:.0}", t.tempo_bpm),
            t.notes.to_string(),
            t.errors.to_string(),
            t.at_most_in_100.map(|p| format!("{p:.1}")).unwrap_or_default(),
        ];
        for g in &groups {
            let at = g.by_tempo.get(i);
            cells.push(at.and_then(|a| a.bias_ms).map(signed).unwrap_or_default());
            cells.push(at.and_then(|a| a.spread_ms).map(|s| format!("{s:.1}")).unwrap_or_default());
        }
        table.row(cells);
    }
    out.push_str(&table.fitted(2, style.width));
    out.push_str(&style.heading("In the order played"));
    for t in &report.takes {
        let errors = count(t.errors, "error", "errors");
        let spread = t.spread_ms.map(|s| format!(", scatter {s:.1} ms")).unwrap_or_default();
        let rate = format!("{:.1} bpm ({:.1} notes a second)", t.tempo_bpm, t.notes_a_second);
        out.push_str(&style.item(&format!(
            "{}: {rate}, {}, {errors}{spread}",
            t.path,
            count(t.notes, "note", "notes")
        )));
    }
    for caution in &report.cautions {
        out.push('\n');
        out.push_str(&style.wrap(caution, "", ""));
    }
    out
}

/// One row a group and tempo.
pub fn ladder_csv(report: &LadderReport) -> String {
    let mut out = "group,tempo_bpm,n,bias_ms,spread_ms,errors,smear_ms,comes_apart_bpm,comes_apart_low_bpm,\
        comes_apart_high_bpm,withheld\r\n"
        .to_owned();
    for g in &report.groups {
        for t in &g.by_tempo {
            out.push_str(&csv_line(&[
                g.group.clone(),
                t.tempo_bpm.to_string(),
                t.n.to_string(),
                number(t.bias_ms),
                number(t.spread_ms),
                t.errors.to_string(),
                number(t.smear_ms),
                number(g.comes_apart_bpm),
                number(g.comes_apart_ci95_bpm.map(|c| c[0])),
                number(g.comes_apart_ci95_bpm.map(|c| c[1])),
                g.withheld.clone().unwrap_or_default(),
            ]));
        }
    }
    out
}
