//! The list of takes, one take, one result.

use super::mend::{known, picked, recorded, words};
use crate::forms::{ON_A_PAGE, TakesOffer as Offer, Ticked, Wanted};
use crate::frame::{address, layout, ms, no_journal, player_address, same, select, token};
use crate::jobs::Job;
use crate::state::App;
use maud::{Markup, PreEscaped, html};
use takegauge_journal::{Picked, TakeRecord, TakeRow};
use takegauge_review::ScoreReport;

/// Takes as a table, in the order given; with boxes to tick where these are to be compared.
pub(super) fn rows<'a>(takes: impl Iterator<Item = &'a TakeRow>, ticked: Option<&Ticked>) -> Markup {
    html! { div.scroll tabindex="0" role="region" aria-label="Takes" { table.takes {
        thead { tr {
            th scope="col" { "take" } @if ticked.is_some() { th.ticked scope="col" { "compare" } } th.words scope="col" { "day" } th.words scope="col" { "player" }
            th.words scope="col" { "drill" } th scope="col" { "bpm" } th scope="col" { "notes" }
            th scope="col" { "errors" } th scope="col" { "scatter, ms" } th.words scope="col" { "tags, note, first finding" }
        } }
        tbody { @for t in takes { tr {
            th scope="row" { a href={ "/takes/" (t.take) } { (t.take) } }
            @if let Some(ticked) = ticked { td.ticked { (ticks(t.take, ticked)) } }
            td.day { (t.day) }
            td.words { (t.player) } td.words { (t.drill) }
            td { (format!("{:.0}", t.tempo_bpm)) } td { (t.notes) } td { (t.errors) } td { (ms(t.spread_ms)) }
            td.words {
                @for tag in &t.tags { a.tag href=(address("/takes", &[("tag", tag)])) { (tag) } " " }
                @if !t.note.is_empty() { span { (short(&t.note)) } " " }
                span.quiet { (short(&t.finding)) }
            }
        } } }
    } } }
}

/// Two boxes: into the one set, into the other.
fn ticks(take: i64, ticked: &Ticked) -> Markup {
    html! { @for (name, letter, set) in [("a", "A", &ticked.a), ("b", "B", &ticked.b)] {
        label { input type="checkbox" name=(name) value=(take) checked[set.contains(&take)] aria-label={ (letter) ", take " (take) }; (letter) } " "
    } }
}

fn short(text: &str) -> String {
    const MOST: usize = 90;
    if text.chars().count() <= MOST { text.to_owned() } else { text.chars().take(MOST).chain("...".chars()).collect() }
}

pub(crate) fn takes(app: &App, offer: Option<&Offer>, wanted: &Wanted) -> String {
    let Some(offer) = offer else {
        return layout(Some(app.token()), "/takes", "Takes", &["theme.js"], no_journal(app.may_keep()));
    };
    let all = |word: &str| (String::new(), word.to_owned());
    let players = [vec![all("all")], same(&offer.players)].concat();
    let drills = offer.drills.iter().map(|d| (d.id.to_string(), d.name.clone()));
    let drills: Vec<_> = std::iter::once(all("all")).chain(drills).collect();
    let from = wanted.page.saturating_mul(ON_A_PAGE).min(offer.rows.len());
    let to = (from + ON_A_PAGE).min(offer.rows.len());
    let shown = &offer.rows[from..to];
    let elsewhere = |set: &[i64]| -> Vec<i64> {
        set.iter().copied().filter(|take| shown.iter().all(|r| r.take != *take)).collect()
    };
    let (a, b) = (elsewhere(&offer.ticked.a), elsewhere(&offer.ticked.b));
    // One form, so that what is ticked stays ticked while the list is turned over or narrowed down.
    let body = html! {
        form action="/takes" method="get" {
            div.controls {
                (select("Player", "player", &wanted.player, &players))
                (select("Drill", "drill", &wanted.drill, &drills))
                label { "Tag " input type="text" name="tag" value=(wanted.tag) size="10"; }
                label { "From " input type="date" name="since" value=(wanted.since); }
                label { "to " input type="date" name="until" value=(wanted.until); }
                button type="submit" { "Show" }
            }
            @if offer.rows.is_empty() { p { "No take passes." } }
            @else {
                p.quiet { "Takes " (from + 1) " to " (to) " of " (offer.rows.len()) ", the latest first." }
            }
            @if !(offer.rows.is_empty() && offer.ticked.is_empty()) { (compare_bar(&a, &b)) }
            @if !offer.rows.is_empty() {
                (rows(shown.iter(), Some(&offer.ticked)))
                p.buttons {
                    @if wanted.page > 0 { button type="submit" name="page" value=(wanted.page - 1) { "Later takes" } }
                    @if to < offer.rows.len() { button type="submit" name="page" value=(wanted.page + 1) { "Earlier takes" } }
                }
            }
        }
        @if offer.on_shelf > 0 {
            form action="/undo" method="post" { (token(app.token()))
                p { button type="submit" { "Take back the last change" } span.quiet { " " (offer.on_shelf) " deleted or replaced can be had back." } }
            }
        }
    };
    layout(Some(app.token()), "/takes", "Takes", &["theme.js"], body)
}

/// What is done with ticked takes; `a` and `b` are ticked and not in sight.
fn compare_bar(a: &[i64], b: &[i64]) -> Markup {
    html! {
        div.buttons {
            button type="submit" formaction="/compare" { "Compare A with B" }
            span.quiet { "Tick a take for A and one for B, or two sets of takes of one drill by one player." }
        }
        @if !(a.is_empty() && b.is_empty()) {
            p.controls role="group" aria-label="Ticked, not in this list" {
                span.quiet { "Ticked, not in this list:" }
                @for (name, letter, set) in [("a", "A", a), ("b", "B", b)] { @for take in set {
                    label { input type="checkbox" name=(name) value=(take) checked; (letter) ", take " (take) }
                } }
            }
        }
    }
}

/// One take of the journal: its report, and what stands beside it, to be mended.
pub(crate) fn take(
    app: &App,
    number: i64,
    record: &TakeRecord,
    report: &ScoreReport,
    (mend, sections): (Markup, String),
) -> String {
    let lines = [("Guitar", &record.guitar), ("Recorded with", &record.microphone)];
    let body = html! {
        p.meta {
            "Take " (number) ", " a href=(player_address(&record.player)) { (record.player) } ", "
            (record.recorded_at.day()) ", "
            @for (name, value) in lines { @if !value.is_empty() { (name) ": " (value) ", " } }
            a href={ "/takes/" (number) "/report.html" } { "report as one file" } ", "
            a href={ "/takes/" (number) "/student" } { "page for the student" } ", "
            a href={ "/takes/" (number) "/score.json" } { "JSON" } ", "
            a href=(address("/takes", &[("player", &record.player), ("a", &number.to_string())])) { "compare it with another" }
        }
        (mend)
        (film_form(app, &format!("/takes/{number}"), report.camera.is_some()))
        @if !record.note.is_empty() { p.print-only { (record.note) } }
        (PreEscaped(sections))
    };
    layout(Some(app.token()), "", &report.drill.name, &["report.js", "loops.js"], body)
}

/// Where a film is named.
fn film_form(app: &App, at: &str, has_one: bool) -> Markup {
    html! { details.no-print { summary { @if has_one { "Another film of this take" } @else { "A film of this take" } }
        form.stack action={ (at) "/film" } method="post" { (token(app.token()))
            label { "Path of the film on this machine" input type="text" name="path" size="60" maxlength="4096" required; }
            p.quiet { "A film made along with the take: its sound is laid over the take's, which takes some seconds. The film stays where it is." }
            p { button type="submit" { "Lay it over the take" } }
        }
    } }
}

/// One page to print for the student.
pub(crate) fn student(app: &App, number: i64, report: &ScoreReport, sections: String) -> String {
    let body = html! {
        p.no-print { a href={ "/takes/" (number) } { "Back to the take" } ". Print this page with the browser." }
        (PreEscaped(sections))
    };
    layout(Some(app.token()), "", &report.drill.name, &["theme.js"], body)
}

/// A recording that was just scored, and how to keep it.
pub(crate) fn result(
    app: &App,
    number: u64,
    job: &Job,
    report: &ScoreReport,
    players: &[String],
    sections: String,
) -> String {
    let usual = app.player.as_deref().or(players.first().map(String::as_str)).unwrap_or_default();
    let body = html! {
        @match job.kept_as {
            Some(take) => p.meta { "Kept as " a href={ "/takes/" (take) } { "take " (take) } "." },
            None => p.meta { a href={ "/results/" (number) "/score.json" } { "JSON" } },
        }
        @if job.kept_as.is_none() && app.may_keep() {
            details.no-print { summary { "Keep it in the journal" }
                form.stack action={ "/results/" (number) "/keep" } method="post" { (token(app.token()))
                    label { "Player " input type="text" name="player" value=(usual) list="players" required maxlength="100"; }
                    (known(players))
                    (recorded(job.sent.recorded_at))
                    label { "Guitar " input type="text" name="guitar" maxlength="200"; }
                    label { "Recorded with " input type="text" name="microphone" maxlength="200"; }
                    (picked(Picked::Unknown))
                    (words("", ""))
                    p { button type="submit" { "Keep" } }
                }
            }
        }
        @if job.kept_as.is_none() { (film_form(app, &format!("/results/{number}"), report.camera.is_some())) }
        (PreEscaped(sections))
    };
    layout(Some(app.token()), "", &report.drill.name, &["report.js", "loops.js"], body)
}
