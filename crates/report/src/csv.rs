//! CSV after RFC 4180: CRLF line ends, quotes where a field needs them, units in the header names.

use takegauge_review::declared::flat_columns;
use takegauge_review::{ChangeRow, Figures, ScoreReport};

/// A field as RFC 4180 writes it; a text that a spreadsheet would run as a formula is given a leading apostrophe.
fn field(text: &str) -> String {
    let risky =
        text.starts_with(['=', '+', '@', '\t', '\r']) || (text.starts_with('-') && text.parse::<f64>().is_err());
    let text = if risky { format!("'{text}") } else { text.to_owned() };
    if text.contains([',', '"', '\n', '\r']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text }
}

/// One line after RFC 4180, its line end included.
pub fn csv_line(cells: &[String]) -> String {
    let mut out = cells.iter().map(|c| field(c)).collect::<Vec<_>>().join(",");
    out.push_str("\r\n");
    out
}

/// A number in full, or an empty field.
pub(crate) fn number(value: Option<f64>) -> String {
    value.map(|v| v.to_string()).unwrap_or_default()
}

/// The figures of a group of notes as columns: a name, and what stands under it; what is withheld is an empty field.
pub fn figure_names() -> Vec<String> {
    flat_columns().map(|c| c.name()).collect()
}

/// In the order of [`figure_names`].
pub fn figure_cells(figures: &Figures) -> Vec<String> {
    flat_columns().map(|c| number(figures.flat(c))).collect()
}

fn name<T: serde::Serialize>(value: &Option<T>) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(s)) => s,
        _ => String::new(),
    }
}

/// One row a note, pass by pass.
pub fn notes_csv(report: &ScoreReport) -> String {
    const HEAD: &str = "pass,index,repeat,position,status,expected_s,played_s,deviation_ms,local_deviation_ms,\
        uncertainty_ms,string,fret,midi,heard_midi,stroke,stroke_sure,change_from,change_to,change_kind,leaves_on,\
        adjacent,after_gap,level_db,smear_ms,smear_withheld\r\n";
    let mut out = HEAD.to_owned();
    for n in &report.notes {
        let change = n.change.as_ref();
        out.push_str(&csv_line(&[
            n.pass.to_string(),
            n.index.to_string(),
            n.repeat.to_string(),
            n.position.to_string(),
            name(&Some(n.status)),
            n.expected_s.to_string(),
            number(n.played_s),
            number(n.deviation_ms),
            number(n.local_deviation_ms),
            number(n.uncertainty_ms),
            n.string.to_string(),
            n.fret.to_string(),
            n.midi.to_string(),
            n.heard_midi.map(|m| m.to_string()).unwrap_or_default(),
            name(&n.stroke),
            n.stroke_sure.to_string(),
            change.map(|c| c.from.to_string()).unwrap_or_default(),
            change.map(|c| c.to.to_string()).unwrap_or_default(),
            name(&change.and_then(|c| c.kind)),
            name(&change.and_then(|c| c.leaves_on)),
            change.map(|c| c.adjacent.to_string()).unwrap_or_default(),
            change.map(|c| c.after_gap.to_string()).unwrap_or_default(),
            number(n.level_db),
            number(n.smear_ms),
            n.smear_withheld.clone().unwrap_or_default(),
        ]));
    }
    out
}

/// One row a pair of strings and kind of change.
pub fn changes_csv(report: &ScoreReport) -> String {
    let mut head = ["from", "to", "kind", "leaves_on", "adjacent"].map(str::to_owned).to_vec();
    head.extend(figure_names());
    head.push("withheld".to_owned());
    let mut out = csv_line(&head);
    for ChangeRow { from, to, kind, leaves_on, adjacent, row } in &report.changes {
        let mut cells = vec![from.to_string(), to.to_string(), name(kind), name(leaves_on), adjacent.to_string()];
        cells.extend(figure_cells(&row.figures));
        cells.push(row.withheld.clone().unwrap_or_default());
        out.push_str(&csv_line(&cells));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4180 section 2, rules 5 to 7.
    #[test]
    fn fields_are_quoted_as_rfc_4180_says() {
        assert_eq!(field("aaa"), "aaa");
        assert_eq!(field("b,bb"), "\"b,bb\"");
        assert_eq!(field("b\"bb"), "\"b\"\"bb\"");
        assert_eq!(field("two\r\nlines"), "\"two\r\nlines\"");
        assert_eq!(field("=1+1"), "'=1+1");
        assert_eq!(field("-3.5"), "-3.5");
    }
}
