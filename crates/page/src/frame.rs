//! What every page has around it, and the pieces that pages are put together from.

use maud::{DOCTYPE, Markup, PreEscaped, html};
use takegauge_report::plot_in_page;

const PLACES: [(&str, &str); 9] = [
    ("/", "Score a take"),
    ("/record", "Record"),
    ("/takes", "Takes"),
    ("/drills", "Drills"),
    ("/players", "Players"),
    ("/trend", "Trend"),
    ("/ladder", "Ladder"),
    ("/compare", "Compare"),
    ("/plan", "Plan"),
];

/// One page: `token` is for its scripts, `here` is its address in the row of places, `scripts` are files under /assets.
pub(crate) fn layout(token: Option<&str>, here: &str, title: &str, scripts: &[&str], body: Markup) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                @if let Some(token) = token { meta name="token" content=(token); }
                title { (title) " - takegauge" }
                link rel="icon" href="data:,";
                link rel="stylesheet" href="/assets/report.css";
                link rel="stylesheet" href="/assets/page.css";
                @for s in scripts { script defer src={ "/assets/" (s) } {} }
            }
            body {
                div.top.no-print {
                    nav aria-label="Pages" { @for (address, name) in PLACES {
                        a href=(address) aria-current=[(address == here).then_some("page")] { (name) }
                    } }
                    button type="button" id="theme" { "Dark" }
                }
                main { h1 { (title) } (body) }
            }
        }
    }
    .into_string()
}

/// What went wrong, in a sentence.
pub(crate) fn trouble(text: &str) -> String {
    layout(
        None,
        "",
        "That did not work",
        &["theme.js"],
        html! { p { (text) } p { a href="/" { "To the first page" } } },
    )
}

/// The hidden field that every form which changes something carries.
pub(crate) fn token(token: &str) -> Markup {
    html! { input type="hidden" name="token" value=(token); }
}

/// An address with a query whose values may be any text.
pub(crate) fn address(path: &str, query: &[(&str, &str)]) -> String {
    let mut out = form_urlencoded::Serializer::for_suffix(format!("{path}?"), path.len() + 1);
    out.extend_pairs(query).finish()
}

/// The page of one player.
pub(crate) fn player_address(name: &str) -> String {
    address("/player", &[("name", name)])
}

/// The button that takes back the last change, and what that was; nothing where there is nothing to take back. `player` is
/// whose page to come back to.
pub(crate) fn undo(own: &str, player: Option<&str>, last_change: Option<&str>) -> Markup {
    html! { @if let Some(what) = last_change {
        form.no-print action="/undo" method="post" { (token(own))
            @if let Some(name) = player { input type="hidden" name="player" value=(name); }
            p { button type="submit" { "Take back the last change" } span.quiet { " " (what) } }
        }
    } }
}

/// A choice among values with names.
pub(crate) fn select(label: &str, name: &str, chosen: &str, values: &[(String, String)]) -> Markup {
    html! { label { (label) " " select name=(name) {
        @for (value, text) in values { option value=(value) selected[value == chosen] { (text) } }
    } } }
}

/// The same values as names and what is sent.
pub(crate) fn same(values: &[String]) -> Vec<(String, String)> {
    values.iter().map(|v| (v.clone(), v.clone())).collect()
}

/// A plot in a page, in the page's own inks.
pub(crate) fn plot(svg: &[u8], what: &str) -> Markup {
    html! { (PreEscaped(plot_in_page(svg, what))) }
}

/// Where there is no journal yet, or none may be kept.
pub(crate) fn no_journal(may_keep: bool) -> Markup {
    html! {
        @if may_keep { p { "There is no journal yet. Score a take and keep it, and this page fills." } }
        @else { p { "No journal is in use." } }
        p { a href="/" { "Score a take" } }
    }
}

/// A time, ms.
pub(crate) fn ms(value: Option<f64>) -> String {
    value.map(|v| format!("{v:.1}")).unwrap_or_default()
}
