//! The terminal's table of one take by kind of note: a full layout, and a narrow one where that does not fit.

use crate::style::Style;
use crate::words::{self, count, signed};
use crate::{Align, Table};
use takegauge_review::{GroupKey, GroupRow, SHORTEST_SMEAR, ScoreReport, ringing};

/// The table under its heading, and what it leaves out.
pub(crate) fn groups(report: &ScoreReport, style: Style) -> String {
    if report.groups.is_empty() {
        return String::new();
    }
    let (shown, left): (Vec<&GroupRow>, Vec<&GroupRow>) =
        report.groups.iter().partition(|g| style.every_group || looked_at_first(g, report));
    let full = full(&shown);
    let narrow = !full.fits(INDENT, style.width);
    let mut out = style.heading("By kind of note (ms; + is late, - is early)");
    out.push_str(&if narrow { self::narrow(&shown) } else { full }.fitted(INDENT, style.width));
    let mut legend = Vec::new();
    if narrow && shown.iter().any(|g| g.missed + g.wrong_pitch > 0) {
        legend.push("Errors are notes not heard or at another pitch.".to_owned());
    }
    if report.groups.iter().any(|g| g.smear_ms.is_some()) {
        let shortest = SHORTEST_SMEAR.0;
        legend.push(format!("Ringing over shorter than {shortest:.0} ms cannot be told apart."));
    }
    if !left.is_empty() {
        let left = count(left.len(), "more group of notes stands", "more groups of notes stand");
        legend.push(format!("{left} in --html and --json, and here with -v."));
    }
    if !legend.is_empty() {
        out.push('\n');
        out.push_str(&style.wrap(&legend.join(" "), "  ", "  "));
    }
    out
}

const INDENT: usize = 2;

fn some(n: usize) -> String {
    if n == 0 { String::new() } else { n.to_string() }
}

fn range(ci: Option<[f64; 2]>) -> String {
    ci.map(|c| format!("{} to {}", signed(c[0]), signed(c[1]))).unwrap_or_default()
}

fn full(shown: &[&GroupRow]) -> Table {
    let mut table = Table::new(&[
        ("", Align::Left),
        ("notes", Align::Right),
        ("late +", Align::Right),
        ("95 %", Align::Right),
        ("scatter (95 %)", Align::Right),
        ("slips", Align::Right),
        ("not heard", Align::Right),
        ("wrong", Align::Right),
        ("rings over", Align::Right),
        ("margin", Align::Right),
    ]);
    for g in shown {
        table.row([
            g.label.clone(),
            g.n.to_string(),
            g.bias_ms.map(signed).unwrap_or_default(),
            range(g.bias_ci95_ms),
            words::spread(g.spread_ms, g.spread_ci95_ms),
            some(g.slips),
            some(g.missed),
            some(g.wrong_pitch),
            g.smear_ms.map(|ms| words::rings(ms, g.smear_n)).unwrap_or_default(),
            margin(g),
        ]);
    }
    table
}

/// The same in 100 columns: shorter names, notes not heard and wrong in one column.
fn narrow(shown: &[&GroupRow]) -> Table {
    let mut table = Table::new(&[
        ("", Align::Left),
        ("notes", Align::Right),
        ("late +", Align::Right),
        ("95 %", Align::Right),
        ("scatter 95 %", Align::Right),
        ("slips", Align::Right),
        ("errors", Align::Right),
        ("rings", Align::Right),
        ("margin", Align::Right),
    ]);
    for g in shown {
        let label = ["changes ", "notes "].iter().find_map(|word| g.label.strip_prefix(word)).unwrap_or(&g.label);
        table.row([
            label.to_owned(),
            g.n.to_string(),
            g.bias_ms.map(signed).unwrap_or_default(),
            range(g.bias_ci95_ms),
            words::spread(g.spread_ms, g.spread_ci95_ms).replace(" to ", "-"),
            some(g.slips),
            some(g.missed + g.wrong_pitch),
            g.smear_ms.map(|ms| rings_narrow(ms, g.smear_n)).unwrap_or_default(),
            margin(g).replace(" +-", "+-"),
        ]);
    }
    table
}

/// "68", "<=33" where no shorter time can be told, "68 (n 3)" where it rests on 3 notes.
fn rings_narrow(ms: f64, notes: usize) -> String {
    let text = ringing(ms);
    let text = text.strip_suffix(" or less").map_or(text.clone(), |least| format!("<={least}"));
    if words::few(notes) { format!("{text} (n {notes})") } else { text }
}

fn margin(g: &GroupRow) -> String {
    match (g.margin, g.margin_se) {
        (Some(m), Some(se)) => format!("{m:.1} +-{se:.1}"),
        (Some(m), None) => format!("{m:.1}"),
        _ => String::new(),
    }
}

/// The kinds of change, pairs, strokes and strings that there is something to say of, and what stands out.
pub(crate) fn looked_at_first(g: &GroupRow, report: &ScoreReport) -> bool {
    let said = g.bias_ms.is_some() || g.spread_ms.is_some() || g.missed + g.wrong_pitch > 0;
    let of_a_kind = matches!(
        g.group,
        GroupKey::SameString
            | GroupKey::Change
            | GroupKey::Kind(_)
            | GroupKey::Pair(..)
            | GroupKey::Stroke(_)
            | GroupKey::String(_)
            | GroupKey::AfterGap
    );
    said && of_a_kind || report.findings.iter().any(|f| f.group == g.group)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_notes_are_told_beside_their_ringing() {
        assert_eq!((rings_narrow(68.2, 3), rings_narrow(33.0, 60)), ("68 (n 3)".to_owned(), "<=33".to_owned()));
    }
}
