//! What is set for a player: the list, and the form that adds to it.

use crate::choice::Choice;
use crate::forms::TaskAsked;
use crate::frame::{address, player_address, select, token, undo};
use crate::state::App;
use maud::{Markup, html};
use takegauge_report::task_state;
use takegauge_review::history::{PlayerReport, TaskLine, TaskState};

/// What is set, the form that adds to it, what is done, and how the last change is taken back.
pub(super) fn tasks(app: &App, report: &PlayerReport, form: Markup, last_change: Option<&str>) -> Markup {
    let (done, open): (Vec<&TaskLine>, Vec<&TaskLine>) = report.tasks.iter().partition(|t| t.done.is_some());
    html! {
        @if open.is_empty() { p { "Nothing is set." } }
        @else { ul.plain.tasks { @for t in open { (task(app, t)) } } }
        (form)
        @if !done.is_empty() { details.no-print { summary { "Done (" (done.len()) ")" } ul.plain.tasks { @for t in done { (task(app, t)) } } } }
        (undo(app.token(), Some(&report.player), last_change))
    }
}

/// A task and what can be done with it.
fn task(app: &App, t: &TaskLine) -> Markup {
    let button = |what: &str, name: &str| {
        html! { form action={ "/tasks/" (t.task) "/" (what) } method="post" { (token(app.token()))
            button type="submit" aria-label={ (name) ": " (t.what) } { (name) }
        } }
    };
    let drill = format!("task:{}", t.task);
    let tempo = t.tempo_bpm.map(|t| t.to_string()).unwrap_or_default();
    html! { li {
        p { (t.what) }
        p.quiet { @if t.state == TaskState::Overdue { strong { (task_state(t)) } } @else { (task_state(t)) } }
        div.buttons.no-print {
            @if t.done.is_some() { (button("open", "Open again")) } @else { (button("done", "Done")) }
            @if t.drill.is_some() && t.done.is_none() {
                a.button href=(address("/record", &[("drill", &drill), ("tempo", &tempo)])) aria-label={ "Record it: " (t.what) } { "Record it" }
            }
            (button("delete", "Delete"))
        }
    } }
}

/// The form that sets a task, and what it begins with.
pub(super) fn set_task(app: &App, player: &str, drills: &[Choice], asked: &TaskAsked) -> Markup {
    let none = std::iter::once((String::new(), "none".to_owned()));
    let drills: Vec<_> = none.chain(drills.iter().map(|c| (c.value(), c.label()))).collect();
    html! { details.no-print open[!asked.drill.is_empty()] { summary { "Set a task" }
        form.stack action="/player/tasks" method="post" { (token(app.token()))
            input type="hidden" name="player" value=(player);
            label { "What to do " textarea name="words" rows="2" maxlength="2000" { (asked.words) } }
            (select("Drill", "drill", &asked.drill, &drills))
            label { "Tempo to reach, bpm " input type="number" name="tempo" min="20" max="400" step="any" value=(asked.tempo); }
            label { "Due " input type="date" name="due" value=(asked.due); }
            p { button type="submit" { "Set it" } }
        }
    } }
}

/// The tasks of a plan, of one player or several.
pub(super) fn plan_tasks(all: &[TaskLine], several: bool) -> Markup {
    html! { @if !all.is_empty() {
        h2 { "Set" }
        ul.plain.tasks { @for t in all { li {
            p { @if several { a href=(player_address(&t.player)) { (t.player) } ". " } (t.what) }
            p.quiet { @if t.state == TaskState::Overdue { strong { (task_state(t)) } } @else { (task_state(t)) } }
        } } }
        h2 { "To practise" }
    } }
}
