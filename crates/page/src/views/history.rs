//! Trend, ladder, plan.

use super::tasks::plan_tasks;
use crate::forms::{Asked, HistoryOffer as Offer};
use crate::frame::{layout, ms, no_journal, plot, same, select};
use crate::state::App;
use maud::{Markup, html};
use takegauge_report::{Format, Size, folded, ladder_plot, shown_and_folded, signed, spread, trend_plot};
use takegauge_review::history::{Metric, PlanReport, TrendReport, TrendRow};
use takegauge_review::{AtTempo, LEAST_FOR_ESTIMATES, LadderGroupRow, LadderReport};

fn whose(offer: &Offer, asked: &Asked) -> Markup {
    let drills: Vec<_> = offer.drills.iter().map(|d| (d.id.to_string(), d.name.clone())).collect();
    html! {
        (select("Player", "player", &asked.player, &same(&offer.players)))
        (select("Drill", "drill", &asked.drill, &drills))
    }
}

/// A group at one tempo: late or early, then scatter; "-" where one of them is not told, n where it is small.
fn ladder_cell(at: &AtTempo) -> Markup {
    let few = at.n < LEAST_FOR_ESTIMATES;
    let scatter = spread(at.spread_ms, at.spread_ci95_ms.filter(|c| c[0].is_none()));
    html! { td.few[few] {
        @if at.bias_ms.is_some() || !scatter.is_empty() {
            (at.bias_ms.map_or_else(|| "-".to_owned(), signed)) ", "
            @if scatter.is_empty() { "-" } @else { (scatter) }
            @if few { " (n " (at.n) ")" }
        }
    } }
}

pub(crate) fn trend(app: &App, found: Option<&(Offer, Asked, Option<TrendReport>)>) -> String {
    let page = |body| layout(Some(app.token()), "/trend", "Trend", &["theme.js"], body);
    let Some((offer, asked, report)) = found else { return page(no_journal(app.may_keep())) };
    let first = |words: &str| std::iter::once((String::new(), words.to_owned()));
    let figures = Metric::all().into_iter().map(|m| (m.name().to_owned(), m.words().to_owned()));
    let figures: Vec<_> = first("what changed most").chain(figures).collect();
    let groups: Vec<_> = first("all kinds").chain(offer.groups.iter().cloned()).collect();
    page(html! {
        form.controls action="/trend" method="get" {
            (whose(offer, asked))
            (select("Notes", "group", &asked.group, &groups))
            (select("Figure", "figure", asked.metric().map_or("", Metric::name), &figures))
            label { "Tempo, bpm" input type="number" name="tempo" min="20" max="400" step="any" value=(asked.tempo) placeholder="most played"; }
            button type="submit" { "Show" }
        }
        @match report {
            None => p { "The journal holds no take." },
            Some(report) => {
                @if let Some([low, high]) = report.tempo_bpm { p.quiet { "Takes from " (format!("{low:.0}")) " to " (format!("{high:.0}")) " bpm." } }
                @if let Some((question, others)) = report.rows.split_first() {
                    p.headline { (report.headline) }
                    @for t in &report.text { p { (t) } }
                    @if let Ok(svg) = trend_plot(report, question, Size::default(), Format::Svg) { (plot(&svg, &question.text)) }
                    (days(question))
                    @if !others.is_empty() {
                        h2 { "Other figures, corrected for their number" }
                        ul.plain { @for row in others { li { (row.text) } } }
                    }
                }
                @for r in &report.remarks { p { (r) } }
            }
        }
    })
}

fn days(row: &TrendRow) -> Markup {
    html! { details { summary { "Its practice days as a table (" (row.days.len()) ")" }
        div.scroll tabindex="0" role="region" aria-label="Practice days" { table {
            thead { tr { th scope="col" { "day" } th scope="col" { (row.metric.words()) " " (row.unit.name()) } th scope="col" { "takes" } th scope="col" { "bpm" } } }
            tbody { @for d in &row.days { tr {
                th scope="row" { (d.date) } td { (format!("{:.1}", d.value)) } td { (d.takes) } td { (format!("{:.0}", d.tempo_bpm)) }
            } } }
        } }
    } }
}

pub(crate) fn ladder(app: &App, found: Option<&(Offer, Asked, Option<LadderReport>)>) -> String {
    let page = |body| layout(Some(app.token()), "/ladder", "Ladder", &["theme.js"], body);
    let Some((offer, asked, report)) = found else { return page(no_journal(app.may_keep())) };
    page(html! {
        form.controls action="/ladder" method="get" { (whose(offer, asked)) button type="submit" { "Show" } }
        @match report {
            None => p { "The journal holds no take." },
            Some(report) => {
                @for r in &report.remarks { p { (r) } }
                @if let Ok(svg) = ladder_plot(report, Size::default(), Format::Svg) { (plot(&svg, "Lateness and scatter of each kind of note against tempo; the table below holds the same figures.")) }
                (rungs(report))
                @for c in &report.cautions { p.caution { (c) } }
            }
        }
    })
}

fn rungs(report: &LadderReport) -> Markup {
    let (shown, rest) = shown_and_folded(report);
    html! {
        h2 { "By tempo" }
        div.scroll tabindex="0" role="region" aria-label="By tempo" { table {
            thead { tr { th scope="col" { "bpm" } th scope="col" { "takes" } th scope="col" { "notes" } th scope="col" { "errors" } th scope="col" { "at most in 100 (95 %)" } } }
            tbody { @for t in &report.tempos { tr {
                th scope="row" { (format!("{:.1}", t.tempo_bpm)) } td { (t.takes) } td { (t.notes) } td { (t.errors) } td { (ms(t.at_most_in_100)) }
            } } }
        } }
        h2 { "Early or late, scatter, by kind of note" }
        p.quiet { "In ms: early or late on average against the notes on the same string at the same tempo, then scatter; - where one is not told." }
        (kinds("By kind of note and tempo", report, &shown))
        @if !rest.is_empty() { details { summary { (folded(&rest)) } (kinds("Kinds of note that do not come apart", report, &rest)) } }
    }
}

fn kinds(name: &str, report: &LadderReport, rows: &[&LadderGroupRow]) -> Markup {
    html! { div.scroll tabindex="0" role="region" aria-label=(name) { table {
        thead { tr { th scope="col" { "notes" } th scope="col" { "comes apart at, bpm" } @for t in &report.tempos { th scope="col" { (format!("{:.0} bpm", t.tempo_bpm)) } } } }
        tbody { @for g in rows { tr {
            th scope="row" { (g.label) }
            td { (g.comes_apart_bpm.map(|b| format!("{b:.0}")).unwrap_or_default()) }
            @for at in &g.by_tempo { (ladder_cell(at)) }
        } } }
    } } }
}

pub(crate) fn plan(app: &App, asked: &Asked, found: Option<&(Vec<String>, PlanReport)>) -> String {
    let page = |body| layout(Some(app.token()), "/plan", "Plan", &["theme.js"], body);
    let Some((players, report)) = found else { return page(no_journal(app.may_keep())) };
    let players = [vec![(String::new(), "all".to_owned())], same(players)].concat();
    page(html! {
        form.controls action="/plan" method="get" { (select("Player", "player", &asked.player, &players)) button type="submit" { "Show" } }
        p.quiet { "As of " (report.today) ", the most urgent first." }
        @if report.lines.is_empty() && report.tasks.is_empty() { p { "The journal holds no take." } }
        (plan_tasks(&report.tasks, asked.player.is_empty()))
        ol.findings { @for l in &report.lines { li {
            p { @if asked.player.is_empty() { (l.player) ". " } (l.what) "." }
            p.quiet { (l.why) "." }
        } } }
        @for c in &report.cautions { p.caution { (c) } }
    })
}
