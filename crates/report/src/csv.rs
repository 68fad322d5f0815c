//! CSV after RFC 4180: CRLF line ends, quotes where a field needs them, units in the header names.

use takegauge_review::declared::flat_columns;
use takegauge_review::sheet::Sheet;
use takegauge_review::{Figures, LadderReport, ScoreReport};

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
fn number(value: Option<f64>) -> String {
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

/// A table of numbers.
fn table(sheet: &Sheet) -> String {
    let mut out = csv_line(&sheet.columns.iter().map(|c| c.name.clone()).collect::<Vec<_>>());
    for row in 0..sheet.rows() {
        out.push_str(&csv_line(&sheet.columns.iter().map(|c| c.values.text(row)).collect::<Vec<_>>()));
    }
    out
}

/// One row a note, pass by pass.
pub fn notes_csv(report: &ScoreReport) -> String {
    table(&report.note_sheet())
}

/// One row a pair of strings and kind of change.
pub fn changes_csv(report: &ScoreReport) -> String {
    table(&report.change_sheet())
}

/// One row a group and tempo.
pub fn ladder_csv(report: &LadderReport) -> String {
    table(&report.sheet())
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
