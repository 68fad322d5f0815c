//! The report as one HTML file: opens from disk, asks nothing of any network, and says so in its content policy.

mod data;
mod parts;

use data::Data;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};
use takegauge_review::{ScoreReport, caution};

/// The style sheet of the report and the pages.
pub const STYLE: &str = include_str!("assets/report.css");

/// The take's sound, to go into the report.
#[derive(Debug, Clone, Copy)]
pub struct Sound<'a> {
    /// A file that browsers play.
    pub bytes: &'a [u8],
    /// Its media type, `audio/flac` for one.
    pub media_type: &'a str,
}

/// The script: small files that share one scope.
fn script() -> String {
    let parts = [
        include_str!("assets/marks.js"),
        include_str!("assets/timeline.js"),
        include_str!("assets/player.js"),
        include_str!("assets/main.js"),
    ];
    format!("\"use strict\";\n(() => {{\n{}}})();\n", parts.concat())
}

/// One file. Every text from outside (names, paths) is escaped; only the script whose hash stands in the content
/// policy runs.
pub fn score_html(report: &ScoreReport, sound: Option<Sound<'_>>) -> String {
    let script = script();
    let title = format!("{}: {}", report.drill.name, report.take.path);
    let body = html! {
        header {
            h1 { (report.drill.name) }
            button type="button" id="theme" class="no-print" { "Dark" }
        }
        (parts::headline(report))
        main {
            (parts::findings(report, sound.is_some()))
            (parts::timeline(report, sound.is_some()))
            (parts::string_map(report))
            (parts::practice(report))
            (parts::margin(report))
            (parts::groups(report))
            (parts::notes_table())
            (parts::curious(report))
            (parts::how_sure(report))
            p.caution { (caution()) }
        }
        footer { p.quiet { "takegauge " (report.tool.version) ", seed " (report.tool.seed) } }
        script type="application/json" id="data" { (PreEscaped(script_safe(&Data::of(report)))) }
        @if let Some(s) = sound {
            script type="text/plain" id="sound" data-type=(s.media_type) { (PreEscaped(crate::plot::base64(s.bytes))) }
        }
    };
    document(&title, &script, body)
}

/// A whole page with the script at its end, allowed by its hash alone.
fn document(title: &str, script: &str, body: Markup) -> String {
    let hash = crate::plot::base64(&Sha256::digest(script.as_bytes()));
    let policy = format!(
        "default-src 'none'; script-src 'sha256-{hash}'; style-src 'unsafe-inline'; img-src data:; media-src blob: data:; base-uri 'none'; form-action 'none'"
    );
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body { (body) script { (PreEscaped(script)) } }
        }
    }
    .into_string()
}

/// JSON that cannot end a script element: `<` only ever stands in strings, where `\u003c` means the same.
fn script_safe(data: &Data) -> String {
    serde_json::to_string(data).unwrap_or_else(|_| "{}".to_owned()).replace('<', "\\u003c")
}
