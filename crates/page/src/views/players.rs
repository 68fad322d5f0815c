//! All players, and one player at a glance.

use super::tasks::{set_task, tasks};
use crate::choice::Choice;
use crate::forms::{Roster, TaskAsked};
use crate::frame::{address, layout, no_journal, player_address};
use crate::state::App;
use maud::{Markup, html};
use takegauge_report::finding_state;
use takegauge_review::history::{FindingOverDays, LastTake, PlayerReport, TempoReached};

pub(crate) fn players(app: &App, roster: Option<&[Roster]>) -> String {
    let all = roster.unwrap_or_default();
    let body = html! {
        @if all.is_empty() { (no_journal(app.may_keep())) }
        @else { div.scroll tabindex="0" role="region" aria-label="Players" { table.players {
            thead { tr {
                th scope="col" { "player" } th.words scope="col" { "last take" } th scope="col" { "takes" } th scope="col" { "drills" }
                th.words scope="col" { "set" } th.words scope="col" { "show" }
            } }
            tbody { @for r in all { tr {
                th scope="row" { a href=(player_address(&r.player)) { (r.player) } }
                td.words { @if let Some((day, drill)) = &r.last { span.day { (day) } " " (drill) } @else { span.quiet { "none yet" } } }
                td { (r.takes) } td { (r.drills) }
                td.words { (of_tasks(r)) }
                td.words { @if r.takes > 0 { @for (path, name) in [("/takes", "takes"), ("/trend", "trend"), ("/ladder", "ladder"), ("/plan", "plan")] {
                    a href=(address(path, &[("player", &r.player)])) { (name) } " "
                } } }
            } } }
        } } }
        @if app.may_keep() {
            form.controls action="/player" method="get" {
                label { "Somebody else " input type="text" name="name" maxlength="100" required; }
                button type="submit" { "Open" }
            }
            p.quiet { "Spellings that differ in capitals or blanks alone are one player." }
        }
    };
    layout(Some(app.token()), "/players", "Players", &["theme.js"], body)
}

/// "2, 1 overdue"
fn of_tasks(r: &Roster) -> Markup {
    html! { @match (r.tasks, r.overdue) {
        (0, _) => "",
        (n, 0) => (n),
        (n, late) => { (n) ", " strong { (late) " overdue" } }
    } }
}

/// What stands beside the report on a player's page.
pub(crate) struct Beside<'a> {
    /// Drills that a task may be of.
    pub(crate) drills: &'a [Choice],
    /// What the form of a new task begins with.
    pub(crate) asked: &'a TaskAsked,
    /// What undo would take back.
    pub(crate) last_change: Option<&'a str>,
}

pub(crate) fn player(app: &App, report: &PlayerReport, beside: &Beside<'_>) -> String {
    let of = |path: &str| address(path, &[("player", &report.player)]);
    let body = html! {
        p.meta {
            @if let Some(first) = &report.first_day {
                a href=(of("/takes")) { (counted(report.takes, "take", "takes")) } " on " (counted(report.practice_days, "day", "days"))
                " since " (first) ", " a href=(of("/trend")) { "trend" } ", " a href=(of("/ladder")) { "ladder" } ", " a href=(of("/plan")) { "plan" }
            } @else { "The journal holds no take of " (report.player) " yet." }
        }
        @if let Some(last) = &report.last { (last_take(last)) }
        h2 id="set" { "Set" }
        (tasks(app, report, set_task(app, &report.player, beside.drills, beside.asked), beside.last_change))
        @if report.last.is_some() {
            h2 { "Open" }
            @if report.open.is_empty() { p { "No finding is open." } }
            (findings(&report.open))
            @if !report.gone.is_empty() { details { summary { "Gone in the last four weeks (" (report.gone.len()) ")" } (findings(&report.gone)) } }
            p.quiet { "A finding is open from the first practice day that tells it until two practice days in a row, no slower, do not." }
            h2 { "Tempo reached" }
            (reached(&report.reached))
            h2 { "Next" }
            ol.findings { @for l in &report.next { li { p { (l.what) "." @if l.due { " " strong { "Due." } } } p.quiet { (l.why) "." } } } }
        }
        @for c in &report.cautions { p.caution { (c) } }
    };
    layout(Some(app.token()), "/players", &report.player, &["theme.js"], body)
}

fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

fn last_take(last: &LastTake) -> Markup {
    let ago = match last.days_since {
        0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        n => format!("{n} days ago"),
    };
    html! {
        h2 { "Last take" }
        p { a href={ "/takes/" (last.take) } { "Take " (last.take) } ", " (last.drill) " at " (format!("{:.0}", last.tempo_bpm)) " bpm, "
            (ago) " (" (last.day) "): " (counted(last.errors, "error", "errors")) " in " (last.notes) " notes." }
        p { @match &last.finding { Some(text) => (text), None => "Nothing was found in it." } }
    }
}

fn findings(all: &[FindingOverDays]) -> Markup {
    html! { ul.plain.over-days { @for f in all { li {
        p { span.quiet { (f.drill) ": " } (f.text) }
        p.quiet { (capital(&finding_state(f))) ", " a href={ "/takes/" (f.take) } { "take " (f.take) } "." }
    } } } }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|c| c.to_uppercase().chain(chars).collect()).unwrap_or_default()
}

fn reached(all: &[TempoReached]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Tempo reached" { table {
            thead { tr {
                th scope="col" { "drill" } th scope="col" { "clean at, bpm" } th scope="col" { "first" } th scope="col" { "errors" } th scope="col" { "notes" }
                th scope="col" { "at most in 100 (95 %)" } th scope="col" { "fastest, bpm" } th scope="col" { "takes" } th scope="col" { "last" }
            } }
            tbody { @for r in all { tr {
                th scope="row" { (r.drill) }
                td { @match r.clean_up_to_bpm { Some(bpm) => (format!("{bpm:.0}")), None => "not shown" } }
                td { (r.first_day.as_deref().unwrap_or_default()) }
                td { @if let Some(n) = r.errors { (n) } } td { @if let Some(n) = r.notes { (n) } }
                td { (r.at_most_in_100.map(|p| format!("{p:.1}")).unwrap_or_default()) }
                td { (format!("{:.0}", r.fastest_bpm)) } td { (r.takes) } td { (r.last_day) }
            } } }
        } }
        p.quiet { "Clean: the highest tempo at which all takes together have surely fewer than 5 errors in 100 notes." }
    }
}
