//! CSV after RFC 4180: CRLF line ends, quotes where a field needs them, units in the header names.

use takegauge_review::history::GroupFigures;
use takegauge_review::{ChangeRow, ScoreReport};

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

/// Header names of [`figure_cells`].
pub const FIGURE_NAMES: &str = "n,bias_ms,bias_low_ms,bias_high_ms,spread_ms,spread_low_ms,spread_high_ms,slips,reached,\
    missed,wrong_pitch,extra,smear_ms,smear_n,evenness_ms,margin,margin_se,limit_ms";

/// The figures of a group of notes, in the order of [`FIGURE_NAMES`]; what is withheld is an empty field.
pub fn figure_cells(f: &GroupFigures) -> Vec<String> {
    let bias = f.bias_ci95_ms.map_or([None, None], |c| c.map(Some));
    let spread = f.spread_ci95_ms.unwrap_or([None, None]);
    vec![
        f.n.to_string(),
        number(f.bias_ms),
        number(bias[0]),
        number(bias[1]),
        number(f.spread_ms),
        number(spread[0]),
        number(spread[1]),
        f.slips.to_string(),
        f.reached.to_string(),
        f.missed.to_string(),
        f.wrong_pitch.to_string(),
        f.extra.to_string(),
        number(f.smear_ms),
        f.smear_n.to_string(),
        number(f.evenness_ms),
        number(f.margin),
        number(f.margin_se),
        number(f.limit_ms),
    ]
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
    let mut out = format!("from,to,kind,leaves_on,adjacent,{FIGURE_NAMES},withheld\r\n");
    for ChangeRow { from, to, kind, leaves_on, adjacent, figures } in &report.changes {
        let mut cells = vec![from.to_string(), to.to_string(), name(kind), name(leaves_on), adjacent.to_string()];
        cells.extend(figure_cells(&GroupFigures::from(figures)));
        cells.push(figures.withheld.clone().unwrap_or_default());
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
