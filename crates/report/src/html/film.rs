//! The film of the take: two pictures and what steers them, from the keyboard as well.

use super::data::file_name;
use maud::{Markup, html};
use takegauge_review::ScoreReport;

/// Speeds in per cent; the last is an eighth.
pub(super) const SPEEDS: [(&str, &str); 4] = [("1", "100 %"), ("0.5", "50 %"), ("0.25", "25 %"), ("0.125", "12 %")];

/// The section; nothing where the take has no film.
pub(super) fn section(r: &ScoreReport) -> Markup {
    let Some(camera) = &r.camera else { return html! {} };
    let picture = |name: &str, hidden: bool| {
        html! { figure hidden[hidden] {
            video playsinline preload="auto" tabindex="0" aria-label=(name) {}
            figcaption aria-live="polite" {}
        } }
    };
    html! { div {
        h2.no-print { "The film" }
        div.film.no-print id="film" {
            p.quiet { (file_name(&camera.path)) ". " (camera.text) " What the hands do in it, the eye has to tell." }
            p.quiet id="film-frame" {}
            p.about id="film-lost" role="status" {}
            div.pictures {
                (picture("The film at the chosen note. Space plays, comma and full stop go a frame back and on, n and p to the finding's next and previous note, a back to the attack, l loops, b shows the best note beside it, 1 to 4 set the speed.", false))
                (picture("The film at the best note of the same kind. The same keys.", true))
            }
            p.quiet id="film-about" aria-live="polite" {}
            div.controls role="group" aria-label="Film" {
                button type="button" id="film-play" { "Play the film" }
                button type="button" id="film-stop" { "To the attack" }
                button type="button" id="film-frame-back" { "Frame back" }
                button type="button" id="film-frame-on" { "Frame on" }
                label { "Speed of the film" select id="film-speed" { @for (rate, name) in SPEEDS { option value=(rate) { (name) } } } }
                label { input type="checkbox" id="film-loop"; "loop the change" }
                button type="button" id="film-back" disabled { "Previous note" }
                button type="button" id="film-on" disabled { "Next note" }
                button type="button" id="film-beside" aria-pressed="false" { "Beside the best of its kind" }
                label.file { "Choose the film" input type="file" id="film-file" accept="video/*,.mkv,.mov"; }
            }
        }
    } }
}
