//! What can be done with a practice loop of a score.

use crate::choice::Scored;
use crate::frame::address;
use maud::{Markup, html};

/// Its buttons; `loops.js` brings the first to life. Of a take whose player is known it can be set as a task.
pub(crate) fn loop_actions(scored: Scored, place: usize, player: Option<&str>) -> Markup {
    let drill = format!("loop:{scored}.{place}");
    let here = format!("/drills/loop/{scored}.{place}");
    let save =
        |more: &[(&str, &str)]| address("/clicks", &[&[("drill", drill.as_str()), ("save", "1")], more].concat());
    html! {
        div.buttons.no-print {
            button type="button" data-click=(address("/clicks", &[("drill", &drill)])) { "Play the click" }
            a.button href=(address("/record", &[("drill", &drill)])) { "Record it" }
            a.button href=(here) { "Score my loop" }
            @if let Some(name) = player {
                a.button href={ (address("/player", &[("name", name), ("drill", &drill)])) "#set" } { "Set it as a task" }
            }
            a download href=(save(&[])) { "Save the click" }
            a download href=(save(&[("guide", "1")])) { "Save the guide" }
            a download href={ (here) "/drill.toml" } { "Save the drill" }
            span.quiet role="status" {}
        }
    }
}
