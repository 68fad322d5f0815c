//! The terminal's table of one take by kind of note: a full layout, and a narrow one where that does not fit.

use crate::columns::{Layout, columns};
use crate::style::Style;
use crate::words::count;
use crate::{Align, Table};
use takegauge_review::declared::{BIAS, MISSED, SMEAR, SPREAD, WRONG_PITCH};
use takegauge_review::{GroupKey, GroupRow, SHORTEST_SMEAR, ScoreReport, apart};

/// The table under its heading, and what it leaves out.
pub(crate) fn groups(report: &ScoreReport, style: Style) -> String {
    if report.groups.is_empty() {
        return String::new();
    }
    let apart = apart(report);
    let (shown, left): (Vec<&GroupRow>, Vec<&GroupRow>) =
        report.groups.iter().partition(|g| style.every_group || yardstick(g) || apart.contains(&g.group));
    let full = full(&shown);
    let narrow = !full.fits(INDENT, style.width);
    let mut out = style.heading("By kind of note (ms; + is late, - is early)");
    out.push_str(&if narrow { self::narrow(&shown) } else { full }.fitted(INDENT, style.width));
    let mut legend = Vec::new();
    if narrow && shown.iter().any(|g| went_wrong(g)) {
        legend.push("Errors are notes not heard or at another pitch.".to_owned());
    }
    if report.groups.iter().any(|g| g.figures.value(&SMEAR).is_some()) {
        let shortest = SHORTEST_SMEAR.0;
        legend.push(format!("Ringing over shorter than {shortest:.0} ms cannot be told apart."));
    }
    if !left.is_empty() {
        let left = count(left.len(), "other kind of note does", "other kinds of note do");
        legend.push(format!("{left} not stand out; see -v, --html or --json."));
    }
    if !legend.is_empty() {
        out.push('\n');
        out.push_str(&style.wrap(&legend.join(" "), "  ", "  "));
    }
    out
}

const INDENT: usize = 2;

fn went_wrong(g: &GroupRow) -> bool {
    g.figures.count(&MISSED) + g.figures.count(&WRONG_PITCH) > 0
}

/// Whether something can be told of its timing.
pub(crate) fn has_figures(g: &GroupRow) -> bool {
    g.figures.value(&BIAS).is_some() || g.figures.value(&SPREAD).is_some()
}

fn full(shown: &[&GroupRow]) -> Table {
    filled(Layout::Wide, shown, |label| label)
}

/// The same in 100 columns: shorter names, notes not heard and wrong in one column.
fn narrow(shown: &[&GroupRow]) -> Table {
    filled(Layout::Narrow, shown, |label| {
        ["changes ", "notes "].iter().find_map(|word| label.strip_prefix(word)).unwrap_or(label)
    })
}

fn filled(layout: Layout, shown: &[&GroupRow], label: fn(&str) -> &str) -> Table {
    let columns = columns(layout);
    let heads = columns.iter().map(|c| (c.head, Align::Right));
    let mut table = Table::new(&std::iter::once(("", Align::Left)).chain(heads).collect::<Vec<_>>());
    for g in shown {
        let cells = columns.iter().map(|c| c.cell(&g.figures));
        table.row(std::iter::once(label(&g.label).to_owned()).chain(cells));
    }
    table
}

/// The kinds of change that there is something to say of, as what the others are read against.
fn yardstick(g: &GroupRow) -> bool {
    (has_figures(g) || went_wrong(g)) && matches!(g.group, GroupKey::SameString | GroupKey::Change | GroupKey::Kind(_))
}

/// The kinds of change, pairs, strokes and strings that there is something to say of, and what a finding speaks of: the rows
/// of a plot.
pub(crate) fn looked_at_first(g: &GroupRow, report: &ScoreReport) -> bool {
    let said = has_figures(g) || went_wrong(g);
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
