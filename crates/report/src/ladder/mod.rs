//! One drill at rising tempos, as text, CSV, plot and HTML.

mod html;
mod plot;

pub use html::ladder_html;
pub use plot::ladder_plot;

use crate::style::Style;
use crate::words::{self, count, few, signed};
use crate::{Align, Table};
use takegauge_drill::ChangeKind;
use takegauge_review::{AtTempo, GroupKey, LadderGroupRow, LadderReport};

/// The groups that a ladder's short tables and plots show, in this order.
const MAIN: [GroupKey; 6] = [
    GroupKey::SameString,
    GroupKey::Kind(ChangeKind::Inside),
    GroupKey::Kind(ChangeKind::Outside),
    GroupKey::Kind(ChangeKind::Sweep),
    GroupKey::Kind(ChangeKind::SameStroke),
    GroupKey::Change,
];

/// Most groups side by side.
const SHOWN: usize = 4;

/// Groups shown side by side: those that come apart first, then the usual ones.
pub(crate) fn main_groups(report: &LadderReport) -> Vec<&LadderGroupRow> {
    let apart = report.groups.iter().filter(|g| g.comes_apart_bpm.is_some());
    let usual = MAIN.iter().filter_map(|key| report.groups.iter().find(|g| g.group == *key));
    let mut out: Vec<&LadderGroupRow> = Vec::new();
    for g in apart.chain(usual) {
        let has_figures = g.by_tempo.iter().any(|t| t.spread_ms.is_some() || t.bias_ms.is_some());
        if has_figures && out.len() < SHOWN && !out.iter().any(|o| o.group == g.group) {
            out.push(g);
        }
    }
    let place = |g: &LadderGroupRow| MAIN.iter().position(|m| *m == g.group).unwrap_or(MAIN.len());
    out.sort_by_key(|g| place(g));
    out
}

/// The kinds of note that a ladder's tables begin with, those that come apart and the usual ones; then the others, which
/// are folded.
pub fn shown_and_folded(report: &LadderReport) -> (Vec<&LadderGroupRow>, Vec<&LadderGroupRow>) {
    report.groups.iter().partition(|g| g.comes_apart_bpm.is_some() || MAIN.contains(&g.group))
}

/// What stands over those that are folded.
pub fn folded(rows: &[&LadderGroupRow]) -> String {
    format!("{} not come apart", count(rows.len(), "other kind of note does", "other kinds of note do"))
}

/// The notes that others are held against.
pub(crate) const REFERENCE: GroupKey = GroupKey::SameString;

/// What lateness is held against, as a reader is told.
pub(crate) fn against(report: &LadderReport) -> &'static str {
    if report.groups.iter().any(|g| g.group == REFERENCE) { "the notes on the same string" } else { "all other notes" }
}

/// Lateness, with the number of notes where it rests on few; "-" for the notes that others are held against.
fn lateness(g: &LadderGroupRow, at: &AtTempo) -> String {
    match at.bias_ms.map(signed) {
        Some(late) if few(at.n) => format!("{late} (n {})", at.n),
        Some(late) => late,
        None if g.group == REFERENCE => "-".to_owned(),
        None => String::new(),
    }
}

/// The report for the terminal: what was found, then milliseconds against tempo.
pub fn ladder_text(report: &LadderReport, style: Style) -> String {
    let mut out = style.wrap(&format!("{}: {}", report.drill, count(report.takes.len(), "take", "takes")), "", "");
    for remark in &report.remarks {
        out.push_str(&style.item(remark));
    }
    let groups = main_groups(report);
    out.push_str(&style.heading(&format!("By tempo (ms; + is late against {}, scatter beside it)", against(report))));
    let mut names: Vec<String> = ["bpm", "errors", "at most"].map(str::to_owned).to_vec();
    for g in &groups {
        names.extend([g.group.to_string(), "scatter".to_owned()]);
    }
    let columns: Vec<(&str, Align)> = names.iter().map(|n| (n.as_str(), Align::Right)).collect();
    let mut table = Table::new(&columns);
    for (i, t) in report.tempos.iter().enumerate() {
        let mut cells = vec![
            format!("{:.0}", t.tempo_bpm),
            format!("{} of {}", t.errors, t.notes),
            t.at_most_in_100.map(|p| format!("{p:.1} %")).unwrap_or_default(),
        ];
        for g in &groups {
            let at = g.by_tempo.get(i);
            cells.push(at.map(|a| lateness(g, a)).unwrap_or_default());
            // The interval would not fit beside it; the HTML and the JSON have it.
            let limit = at.and_then(|a| a.spread_ci95_ms).filter(|c| c[0].is_none());
            cells.push(words::spread(at.and_then(|a| a.spread_ms), limit));
        }
        table.row(cells);
    }
    out.push_str(&table.fitted(2, style.width));
    let mut legend =
        "At most: errors in 100 notes, upper 95 % limit. Scatter is told from 8 notes at a tempo on, where \
        it is larger than the detector's own error."
            .to_owned();
    if groups.iter().flat_map(|g| &g.by_tempo).any(|a| a.bias_ms.is_some() && few(a.n)) {
        legend.push_str(" n: the number of notes, where it is fewer.");
    }
    out.push('\n');
    out.push_str(&style.wrap(&legend, "  ", "  "));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lateness_on_few_notes_says_so_and_the_reference_has_none() {
        let row: LadderGroupRow = serde_json::from_str(
            r#"{"group":"inside","label":"inside changes","by_tempo":[{"tempo_bpm":120.0,"n":4,"spread_ms":null,
            "bias_ms":2.04,"unsure":0,"errors":0,"smear_ms":null}],"comes_apart_bpm":null,"comes_apart_ci95_bpm":null,
            "measure":"bias and spread","p_adjusted":null,"spread_at_top":null,"bracketed":null,"withheld":null}"#,
        )
        .unwrap();
        let at = &row.by_tempo[0];
        assert_eq!(lateness(&row, at), "+2.0 (n 4)");
        assert_eq!(lateness(&row, &AtTempo { n: 8, ..at.clone() }), "+2.0");
        let same = LadderGroupRow { group: REFERENCE, ..row.clone() };
        assert_eq!(lateness(&same, &AtTempo { bias_ms: None, ..at.clone() }), "-");
    }
}
