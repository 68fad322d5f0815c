//! What stands beside a take's score, to be mended; and the same fields where a take is kept.

use crate::forms::form_time;
use crate::frame::{select, token, undo};
use crate::state::App;
use maud::{Markup, html};
use takegauge_journal::{Picked, RecordedAt, TakeRecord};

/// The field that says when a take was recorded.
pub(super) fn recorded(at: RecordedAt) -> Markup {
    html! { label { "Recorded " input type="datetime-local" name="recorded_at" value=(form_time(at)) required; } }
}

/// Which of several tries.
pub(super) fn picked(chosen: Picked) -> Markup {
    let chosen = if chosen == Picked::Unknown { "" } else { chosen.text() };
    select(
        "Of several tries",
        "picked",
        chosen,
        &[
            (String::new(), "not said".into()),
            ("all".into(), "all are kept".into()),
            ("best".into(), "only the best is kept".into()),
        ],
    )
}

pub(super) fn words(tags: &str, note: &str) -> Markup {
    html! {
        label { "Tags, with commas between " input type="text" name="tags" value=(tags) maxlength="500"; }
        label { "Note " textarea name="note" rows="2" maxlength="4000" { (note) } }
    }
}

/// A list of players to choose from while a name is typed.
pub(super) fn known(players: &[String]) -> Markup {
    html! { datalist id="players" { @for p in players { option value=(p) {} } } }
}

/// All that can be mended of a take, and how the last change is taken back.
pub(crate) fn mend(
    app: &App,
    number: i64,
    record: &TakeRecord,
    players: &[String],
    last_change: Option<&str>,
) -> Markup {
    let open = !record.note.is_empty() || !record.tags.is_empty();
    html! { details.no-print open[open] { summary { "Note, tags, date, player" }
        form.stack action={ "/takes/" (number) "/notes" } method="post" { (token(app.token()))
            (words(&record.tags.join(", "), &record.note))
            label { "Player " input type="text" name="player" value=(record.player) list="players" required maxlength="100"; }
            (known(players))
            (recorded(record.recorded_at))
            label { "Guitar " input type="text" name="guitar" value=(record.guitar) maxlength="200"; }
            label { "Recorded with " input type="text" name="microphone" value=(record.microphone) maxlength="200"; }
            (picked(record.picked))
            p { button type="submit" { "Save" } }
        }
        form action={ "/takes/" (number) "/delete" } method="post" { (token(app.token()))
            p { button type="submit" { "Delete this take" } span.quiet { " It can be had back on the page of takes." } }
        }
        (undo(app.token(), None, last_change))
    } }
}
