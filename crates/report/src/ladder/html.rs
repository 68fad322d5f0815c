//! The ladder as one HTML file without a script: plot, tables, remarks.

use super::{REFERENCE, against, folded, ladder_plot, main_groups, shown_and_folded};
use crate::html::{figure_svg, plain_document};
use crate::plot::{Format, Size};
use crate::words::{few, signed, spread};
use maud::{Markup, html};
use takegauge_review::{AtTempo, LadderGroupRow, LadderReport};

/// One file that opens from disk and asks nothing of any network.
pub fn ladder_html(report: &LadderReport) -> String {
    let plot = ladder_plot(report, Size::Pixels(1040, 440), Format::Svg).ok();
    let groups = main_groups(report);
    let (shown, rest) = shown_and_folded(report);
    let body = html! {
        header { h1 { (report.drill) ": tempo ladder" } }
        main {
            ul.plain { @for r in &report.remarks { li { (r) } } }
            @if let Some(svg) = &plot { (figure_svg(svg, "Lateness and scatter of each kind of note against tempo")) }
            h2 { "By tempo" }
            p.quiet { "In ms: late (+) or early (-) on average against " (against(report)) " at the same tempo; scatter with its 95 % interval. "
                "Scatter is told from 8 notes at a tempo on, where it is larger than the detector's own error. At most: errors in 100 notes, upper 95 % limit." }
            div.scroll tabindex="0" role="region" aria-label="By tempo" { table {
                thead {
                    tr {
                        td colspan="4" {}
                        @for g in &groups { th.over scope="colgroup" colspan=(if g.group == REFERENCE { 1 } else { 2 }) { (g.label) } }
                    }
                    tr {
                        th scope="col" { "bpm" } th scope="col" { "notes" } th scope="col" { "errors" } th scope="col" { "at most" }
                        @for g in &groups { @if g.group != REFERENCE { th scope="col" { "late +" } } th scope="col" { "scatter" } }
                    }
                }
                tbody { @for (i, t) in report.tempos.iter().enumerate() { tr {
                    th scope="row" { (format!("{:.0}", t.tempo_bpm)) }
                    td { (t.notes) } td { (t.errors) } td { (t.at_most_in_100.map(|p| format!("{p:.1}")).unwrap_or_default()) }
                    @for g in &groups { (at_tempo(g, g.by_tempo.get(i))) }
                } } }
            } }
            h2 { "Where each kind of note comes apart" }
            (where_apart("Where each kind comes apart", &shown))
            @if !rest.is_empty() { details { summary { (folded(&rest)) } (where_apart("Kinds of note that do not come apart", &rest)) } }
            h2 { "In the order played" }
            div.scroll { table {
                thead { tr { th scope="col" { "take" } th scope="col" { "bpm" } th scope="col" { "notes" } th scope="col" { "errors" } th scope="col" { "scatter ms" } } }
                tbody { @for t in &report.takes { tr {
                    th scope="row" { (t.path) } td { (format!("{:.1}", t.tempo_bpm)) } td { (t.notes) } td { (t.errors) }
                    td { (t.spread_ms.map(|s| format!("{s:.1}")).unwrap_or_default()) }
                } } }
            } }
            @for c in &report.cautions { p.caution { (c) } }
        }
    };
    plain_document(&format!("{}: tempo ladder", report.drill), body)
}

fn where_apart(name: &str, rows: &[&LadderGroupRow]) -> Markup {
    html! { div.scroll tabindex="0" role="region" aria-label=(name) { table {
        thead { tr { th scope="col" { "notes" } th scope="col" { "from bpm" } th scope="col" { "95 %" } th.words scope="col" { "remark" } } }
        tbody { @for g in rows { tr {
            th scope="row" { (g.label) }
            td { (g.comes_apart_bpm.map(|b| format!("{b:.0}")).unwrap_or_default()) }
            td { (g.comes_apart_ci95_bpm.map(|c| format!("{:.0} to {:.0}", c[0], c[1])).unwrap_or_default()) }
            td.words { @if let Some(w) = &g.withheld { (w) } @else if g.comes_apart_bpm.is_none() { "not shown at these tempos" } }
        } } }
    } } }
}

/// A group's cells at one tempo; what rests on few notes says so.
fn at_tempo(g: &LadderGroupRow, at: Option<&AtTempo>) -> Markup {
    html! {
        @if g.group != REFERENCE {
            td.few[at.is_some_and(|a| few(a.n))] {
                @if let Some((late, n)) = at.and_then(|a| Some((a.bias_ms?, a.n))) {
                    (signed(late)) @if few(n) { " (n " (n) ")" }
                }
            }
        }
        td { (at.map(|a| spread(a.spread_ms, a.spread_ci95_ms)).unwrap_or_default()) }
    }
}
