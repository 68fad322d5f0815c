//! Two takes, or two sets of takes, held against each other.

use crate::forms::Asked;
use crate::frame::{layout, ms, no_journal, plot};
use crate::state::App;
use maud::{Markup, PreEscaped, html};
use std::collections::BTreeSet;
use takegauge_journal::TakeRow;
use takegauge_report::{Format, Size, compare_plot, signed};
use takegauge_review::GroupKey;
use takegauge_review::history::{CompareReport, CompareRow};

/// What two sets were found to be.
pub(crate) struct Compared {
    pub(crate) report: CompareReport,
    /// The takes of both sets, in the order recorded.
    pub(crate) rows: Vec<TakeRow>,
    /// Two single takes: the same step of both, as HTML.
    pub(crate) pair: Option<String>,
}

pub(crate) fn compare(app: &App, asked: &Asked, found: Option<&Compared>) -> String {
    let body = html! {
        p.no-print { a href="/takes" { "Tick them in the list of takes" } ", or give their numbers: takes of one drill by one player." }
        form.controls action="/compare" method="get" {
            label { "A, the first " input type="text" name="first" value=(asked.first) required size="16" placeholder="12, 13"; }
            label { "B, the second " input type="text" name="second" value=(asked.second) required size="16" placeholder="15-18"; }
            button type="submit" { "Compare" }
        }
        @if !app.may_keep() { (no_journal(false)) }
        @if let Some(found) = found { (sections(found)) }
    };
    layout(Some(app.token()), "/compare", "Compare", &["pair.js"], body)
}

fn sections(found: &Compared) -> Markup {
    let report = &found.report;
    html! {
        ul.plain {
            @for (letter, set) in [("A", &report.first), ("B", &report.second)] {
                @for t in found.rows.iter().filter(|r| set.contains(&r.take)) { (one(letter, t)) }
            }
        }
        @for t in &report.text { p { (t) } }
        @if let Ok(svg) = compare_plot(report, Size::default(), Format::Svg) { (plot(&svg, "Both, kind of note by kind of note; the tables below hold the same figures.")) }
        (tables(report))
        @if let Some(pair) = &found.pair { (PreEscaped(pair)) }
    }
}

fn one(letter: &str, t: &TakeRow) -> Markup {
    html! { li {
        b { (letter) } ": " a href={ "/takes/" (t.take) } { "take " (t.take) } ", " (t.player) ", " (t.drill) ", " (t.day) ", "
        (format!("{:.0}", t.tempo_bpm)) " bpm, " (t.notes) " notes, " (t.errors) @if t.errors == 1 { " error" } @else { " errors" }
        @if let Some(scatter) = t.spread_ms { ", scatter " (ms(Some(scatter))) " ms" }
        @if !t.note.is_empty() { span.quiet { ". " (t.note) } }
    } }
}

/// What differs; the rest folded.
fn tables(report: &CompareReport) -> Markup {
    let (differ, rest): (Vec<&CompareRow>, Vec<&CompareRow>) = report.rows.iter().partition(|r| r.differs());
    let kinds = |rows: &[&CompareRow]| rows.iter().map(|r| r.group).collect::<BTreeSet<GroupKey>>();
    let (changed, judged) = (kinds(&differ), rest.iter().any(|r| r.p.is_some()) || !differ.is_empty());
    let same = kinds(&rest).difference(&changed).count();
    let folded = match (judged, same, changed.len()) {
        (false, n, _) => format!("The figures of all {}, without a verdict", of_kinds(n)),
        (true, n, 0) => format!("{} not differ beyond chance", does(n)),
        (true, 0, _) => "What else was looked at in these kinds of note does not differ beyond chance".to_owned(),
        (true, n, _) => format!("{} not differ beyond chance, and the rest of the figures of those that do", does(n)),
    };
    html! {
        @if !differ.is_empty() {
            h2 { "What differs" }
            (table("What differs", &differ))
        }
        @if !rest.is_empty() { details { summary { (folded) } (table("What does not differ", &rest)) } }
    }
}

fn of_kinds(n: usize) -> String {
    if n == 1 { "1 kind of note".to_owned() } else { format!("{n} kinds of note") }
}

fn does(n: usize) -> String {
    format!("{} {}", of_kinds(n), if n == 1 { "does" } else { "do" })
}

fn table(name: &str, rows: &[&CompareRow]) -> Markup {
    html! { div.scroll tabindex="0" role="region" aria-label=(name) { table {
        thead { tr {
            th scope="col" { "notes" } th.words scope="col" { "figure" } th scope="col" { "A" } th scope="col" { "B" }
            th scope="col" { "B less A" } th scope="col" { "95 %" } th scope="col" { "p, corrected" }
        } }
        tbody { @for r in rows { tr {
            th scope="row" { (r.label) } td.words { (r.measure.words()) ", " (r.unit.name()) }
            td { (ms(r.first)) } td { (ms(r.second)) } td { (r.difference.map(signed).unwrap_or_default()) }
            td { (r.ci95.map(|[a, b]| format!("{} to {}", signed(a), signed(b))).unwrap_or_default()) }
            td { (r.p_adjusted.map(|p| if p < 0.001 { "< 0.001".to_owned() } else { format!("{p:.3}") }).unwrap_or_default()) }
        } } }
    } } }
}
