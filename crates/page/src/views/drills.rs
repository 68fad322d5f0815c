//! The drills, and one drill with a place to drop takes of it.

use super::send::form;
use crate::choice::Choice;
use crate::frame::layout;
use crate::state::App;
use maud::html;
use takegauge_drill::Drill;

pub(crate) fn drills(app: &App, all: &[Choice]) -> String {
    let parts =
        [("own", "Sent since the program started"), ("journal", "Played, in the journal"), ("ready", "Ready to use")];
    let body = html! {
        @for (kind, title) in parts {
            @let of: Vec<&Choice> = all.iter().filter(|c| c.kind == kind).collect();
            @if !of.is_empty() {
                h2 { (title) }
                ul.plain { @for c in of { li { a href={ "/drills/" (c.kind) "/" (c.key) } { (c.name) } } } }
            }
        }
    };
    layout(Some(app.token()), "/drills", "Drills", &["theme.js"], body)
}

pub(crate) fn drill(app: &App, drill: &Drill, all: &[Choice], chosen: Option<&Choice>) -> String {
    let body = html! {
        @if !drill.note.is_empty() { p { (drill.note) } }
        (form(app, all, chosen))
        @if let Some(row) = chosen.filter(|c| c.kind == "journal") {
            p { a href={ "/takes?drill=" (row.key) } { "Its takes" } ", " a href={ "/trend?drill=" (row.key) } { "trend" } ", "
                a href={ "/ladder?drill=" (row.key) } { "ladder" } }
        }
        h2 { "The line" }
        pre tabindex="0" { (drill.show()) }
        details { summary { "The drill, as a file" } pre tabindex="0" { (drill.to_toml()) } }
    };
    layout(Some(app.token()), "", &drill.name, &["theme.js", "send.js"], body)
}
