//! Reports as HTML to stand in another page, such as a notebook's cell: no script, a style of their own.

use super::{figure_svg, parts};
use crate::ladder::{ladder_plot, main_groups};
use crate::plot::{Format, Size, changes_plot, take_plot};
use crate::words::{self, signed, spread};
use maud::{Markup, PreEscaped, html};
use takegauge_review::{LadderReport, ScoreReport};

/// Inks are those of the plots on paper, so that a dark notebook shows a light card.
const STYLE: &str = "\
.takegauge{--paper:#fff;--ink:#22262b;--soft:#5b636b;--faint:#d9dde1;--red:#b34700;--blue:#005f99;background:#fff;\
color:#22262b;padding:.5rem .75rem;max-width:60rem;overflow-x:auto;font-variant-numeric:tabular-nums}\
.takegauge .quiet,.takegauge .meta{color:#5b636b}\
.takegauge table{border-collapse:collapse;background:#fff;color:#22262b}\
.takegauge th,.takegauge td{text-align:right;padding:.1rem .6rem .1rem 0;border-bottom:1px solid #d9dde1}\
.takegauge th:first-child{text-align:left}\
.takegauge figure{margin:.5rem 0}.takegauge svg{max-width:100%;height:auto}";

const FIGURE: Size = Size::Pixels(900, 380);

fn card(body: Markup) -> String {
    html! { div.takegauge { style { (PreEscaped(STYLE)) } (body) } }.into_string()
}

/// What stands out in a take, its two plots and its figures. Every text from outside is escaped.
pub fn score_card(report: &ScoreReport) -> String {
    let plot = |svg: Result<Vec<u8>, _>, name| svg.ok().map(|svg| figure_svg(&svg, name));
    card(html! {
        (parts::headline(report))
        @if report.findings.is_empty() { p { (words::nothing(report)) } }
        @else { ol { @for f in &report.findings { li { (f.text) } } } }
        @if let Some(figure) = plot(take_plot(report, FIGURE, Format::Svg), "Deviation of every note in milliseconds") {
            (figure)
        }
        @if let Some(figure) = plot(changes_plot(report, FIGURE, Format::Svg), "Each kind of change: bias and scatter") {
            (figure)
        }
        (parts::groups(report))
    })
}

/// The remarks on a ladder, its plot and its figures by tempo.
pub fn ladder_card(report: &LadderReport) -> String {
    let plot = ladder_plot(report, FIGURE, Format::Svg).ok();
    let groups = main_groups(report);
    card(html! {
        ul { @for r in &report.remarks { li { (r) } } }
        @if let Some(svg) = &plot { (figure_svg(svg, "Lateness and scatter of each kind of note against tempo")) }
        table {
            thead { tr {
                th { "bpm" } th { "notes" } th { "errors" }
                @for g in &groups { th { (g.label) ", late +" } th { "scatter ms" } }
            } }
            tbody { @for (i, t) in report.tempos.iter().enumerate() { tr {
                th { (format!("{:.0}", t.tempo_bpm)) } td { (t.notes) } td { (t.errors) }
                @for at in groups.iter().map(|g| g.by_tempo.get(i)) {
                    td { (at.and_then(|a| a.bias_ms).map(signed).unwrap_or_default()) }
                    td { (spread(at.and_then(|a| a.spread_ms), at.and_then(|a| a.spread_ci95_ms))) }
                }
            } } }
        }
    })
}
