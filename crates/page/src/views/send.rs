//! The first page: drop a recording on a drill; and the page that waits for its score.

use super::takes::rows;
use crate::choice::Choice;
use crate::frame::{layout, no_journal, token};
use crate::jobs::{Job, Stage};
use crate::state::App;
use maud::{Markup, html};
use takegauge_journal::TakeRow;

/// Takes on the first page.
const LATEST: usize = 10;

pub(crate) fn home(app: &App, takes: Option<&[TakeRow]>, drills: &[Choice]) -> String {
    let results = app.jobs.all();
    let body = html! {
        (form(app, drills, None))
        @if !results.is_empty() {
            h2 { "Since the program started" }
            ul.plain { @for (number, job) in &results { li {
                a href={ "/results/" (number) } { (job.sent.name) } ", " (job.sent.drill.name) ": " (stage(job))
            } } }
        }
        h2 { "Latest takes in the journal" }
        @match takes {
            None => (no_journal(app.may_keep())),
            Some([]) => p { "The journal holds no take." },
            Some(all) => {
                (rows(all.iter().rev().take(LATEST), None))
                p { a href="/takes" { "All " (all.len()) " takes" } }
            }
        }
    };
    layout(Some(app.token()), "/", "Score a take", &["theme.js", "send.js"], body)
}

fn stage(job: &Job) -> String {
    match (&job.stage, job.kept_as) {
        (Stage::Waiting, _) => "waiting".to_owned(),
        (Stage::Working(_), _) => "being scored".to_owned(),
        (Stage::Failed(why), _) => format!("not scored, {why}"),
        (Stage::Stopped, _) => "stopped".to_owned(),
        (Stage::Done(_), Some(take)) => format!("kept as take {take}"),
        (Stage::Done(_), None) => "scored, not kept".to_owned(),
    }
}

/// Where recordings are dropped.
pub(super) fn form(app: &App, drills: &[Choice], chosen: Option<&Choice>) -> Markup {
    html! {
        form.send id="send" data-limit=(app.upload_limit) {
            div.controls {
                label { "Drill " select id="drill" name="drill" {
                    @for c in drills { option value=(c.value()) selected[chosen == Some(c)] { (c.label()) } }
                } }
                label { "Tempo, if you know it " input type="number" id="tempo" min="20" max="400" step="any" size="5"; " bpm" }
                label { "First stroke " select id="first" {
                    option value="" { "as the drill says" } option value="up" { "up" }
                } }
            }
            div.drop id="drop" {
                p { label for="file" { "Drop a recording here, or choose a file:" } }
                input type="file" id="file" accept="audio/*,video/*,.flac,.caf,.aif,.aiff,.toml";
                p.quiet { "One guitar track, any common format, up to " (app.upload_limit / 1_000_000) " MB. A drill file (.toml) may be dropped too. Nothing leaves this machine." }
            }
            p.about id="said" role="status" {}
            progress id="sent" max="1" value="0" hidden aria-label="Recording coming in" {}
            noscript { p { "This form needs JavaScript; `takegauge score` does the same without." } }
        }
    }
}

/// While a recording is being scored, or where it could not be.
pub(crate) fn waiting(app: &App, number: u64, job: &Job) -> String {
    let name = &job.sent.name;
    if let Stage::Failed(why) = &job.stage {
        let body = html! {
            p { (name) ", " (job.sent.drill.name) }
            p { "It could not be scored: " (why) }
            p { a href="/" { "Try another recording or drill" } }
        };
        return layout(Some(app.token()), "", "Not scored", &["theme.js"], body);
    }
    if matches!(job.stage, Stage::Stopped) {
        let body = html! {
            p { (name) ", " (job.sent.drill.name) }
            p { "Its scoring was stopped." }
            p { a href="/" { "Score another recording" } }
        };
        return layout(Some(app.token()), "", "Not scored", &["theme.js"], body);
    }
    let body = html! {
        p { (name) ", " (job.sent.drill.name) }
        p { progress id="share" max="1" value="0" data-state={ "/results/" (number) "/state" } aria-label="Share scored" {} }
        p.about id="said" role="status" { "Listening." }
        form method="post" action={ "/results/" (number) "/stop" } { (token(app.token())) button { "Stop" } }
        noscript { p { a href={ "/results/" (number) } { "Look again" } } }
    };
    layout(Some(app.token()), "", "Being scored", &["theme.js", "wait.js"], body)
}
