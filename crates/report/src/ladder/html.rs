//! The ladder as one HTML file without a script: plot, tables, remarks.

use super::{ladder_plot, main_groups};
use crate::html::{figure_svg, plain_document};
use crate::plot::{Format, Size};
use crate::words::signed;
use maud::html;
use takegauge_review::LadderReport;

/// One file that opens from disk and asks nothing of any network.
pub fn ladder_html(report: &LadderReport) -> String {
    let plot = ladder_plot(report, Size::Pixels(1040, 440), Format::Svg).ok();
    let groups = main_groups(report);
    let body = html! {
        header { h1 { (report.drill) ": tempo ladder" } }
        main {
            ul.plain { @for r in &report.remarks { li { (r) } } }
            @if let Some(svg) = &plot { (figure_svg(svg, "Lateness and scatter of each kind of note against tempo")) }
            h2 { "By tempo" }
            p.quiet { "In ms: late (+) or early (-) against the notes on the same string at the same tempo, then scatter." }
            div.scroll tabindex="0" role="region" aria-label="By tempo" { table {
                thead { tr {
                    th scope="col" { "bpm" } th scope="col" { "notes" } th scope="col" { "errors" } th scope="col" { "at most in 100 (95 %)" }
                    @for g in &groups { th scope="col" { (g.label) } th scope="col" { "scatter" } }
                } }
                tbody { @for (i, t) in report.tempos.iter().enumerate() { tr {
                    th scope="row" { (format!("{:.0}", t.tempo_bpm)) }
                    td { (t.notes) } td { (t.errors) } td { (t.at_most_in_100.map(|p| format!("{p:.1}")).unwrap_or_default()) }
                    @for g in &groups {
                        @let at = g.by_tempo.get(i);
                        td { (at.and_then(|a| a.bias_ms).map(signed).unwrap_or_default()) }
                        td { (at.and_then(|a| a.spread_ms).map(|s| format!("{s:.1}")).unwrap_or_default()) }
                    }
                } } }
            } }
            h2 { "Where each kind of note comes apart" }
            div.scroll tabindex="0" role="region" aria-label="Where each kind comes apart" { table {
                thead { tr { th scope="col" { "notes" } th scope="col" { "from bpm" } th scope="col" { "95 %" } th.words scope="col" { "remark" } } }
                tbody { @for g in &report.groups { tr {
                    th scope="row" { (g.label) }
                    td { (g.comes_apart_bpm.map(|b| format!("{b:.0}")).unwrap_or_default()) }
                    td { (g.comes_apart_ci95_bpm.map(|c| format!("{:.0} to {:.0}", c[0], c[1])).unwrap_or_default()) }
                    td.words { @if let Some(w) = &g.withheld { (w) } @else if g.comes_apart_bpm.is_none() { "not shown at these tempos" } }
                } } }
            } }
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
