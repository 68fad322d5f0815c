//! The report as one HTML file: opens from disk, asks nothing of any network, and says so in its content policy.

mod address;
mod data;
mod film;
mod notebook;
mod pair;
mod parts;
mod student;
mod tablature;

pub use pair::{Side, pair_sections};
pub use parts::LoopActions;
pub use student::{student_html, student_sections};
pub use tablature::drill_line;

pub use address::address_from;
pub use notebook::{ladder_card, score_card};

use data::Data;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};
use std::io::{self, Read, Write};
use takegauge_review::{ScoreReport, caution};

/// The style sheet of the report and the pages.
pub const STYLE: &str = include_str!("assets/report.css");

/// The take's sound, to go into the report.
pub struct Sound<'a> {
    /// A file that browsers play.
    pub bytes: &'a mut dyn Read,
    /// Its media type, `audio/flac` for one.
    pub media_type: &'a str,
}

/// The script that switches between light and dark; every page has it.
pub fn theme_script() -> String {
    wrap(&[include_str!("assets/theme.js")])
}

/// The script of a report, [`theme_script`] included: small files that share one scope.
pub fn report_script() -> String {
    wrap(&[
        include_str!("assets/theme.js"),
        include_str!("assets/marks.js"),
        include_str!("assets/timeline.js"),
        include_str!("assets/player.js"),
        include_str!("assets/main.js"),
        include_str!("assets/tablature.js"),
        include_str!("assets/frames.js"),
        include_str!("assets/film.js"),
    ])
}

/// The script of [`pair_sections`], [`theme_script`] included.
pub fn pair_script() -> String {
    wrap(&[include_str!("assets/theme.js"), include_str!("assets/frames.js"), include_str!("assets/pair.js")])
}

fn wrap(parts: &[&str]) -> String {
    format!("\"use strict\";\n(() => {{\n{}}})();\n", parts.concat())
}

/// Where a report's sound is.
#[derive(Debug, Clone, Copy)]
pub enum SoundAt<'a> {
    /// Nowhere: the report is silent.
    Nowhere,
    /// In the report itself, of this media type.
    Inside(&'a str),
    /// At an address of the same server.
    Address(&'a str),
}

/// Where a report's sound is, and its film, where it has one.
#[derive(Debug, Clone, Copy)]
pub struct Media<'a> {
    /// The sound.
    pub sound: SoundAt<'a>,
    /// The address of the film, seen from the report; without one the reader is asked to choose its file.
    pub film: Option<&'a str>,
}

impl<'a> From<SoundAt<'a>> for Media<'a> {
    fn from(sound: SoundAt<'a>) -> Self {
        Self { sound, film: None }
    }
}

/// One file. Every text from outside (names, paths) is escaped; only the script whose hash stands in the content
/// policy runs.
pub fn score_html(report: &ScoreReport) -> String {
    score_html_filmed(report, None)
}

/// The same with the film at an address, as [`address_from`] gives it; the film itself stays where it is.
pub fn score_html_filmed(report: &ScoreReport, film: Option<&str>) -> String {
    whole(report, Media { sound: SoundAt::Nowhere, film })
}

/// The same with the sound inside, written as the sound is read: neither is held in memory.
///
/// # Errors
/// The reader's and the writer's.
pub fn score_html_with(
    report: &ScoreReport,
    sound: Sound<'_>,
    film: Option<&str>,
    out: &mut dyn Write,
) -> io::Result<()> {
    let text = whole(report, Media { sound: SoundAt::Inside(sound.media_type), film });
    // The last one is ours: what follows the sound holds no text from outside.
    let (before, after) =
        text.rsplit_once(SOUND).ok_or_else(|| io::Error::other("the report has no place for sound"))?;
    out.write_all(before.as_bytes())?;
    let mut base64 = base64::write::EncoderWriter::new(&mut *out, &base64::engine::general_purpose::STANDARD);
    io::copy(sound.bytes, &mut base64)?;
    base64.finish()?;
    drop(base64);
    out.write_all(after.as_bytes())
}

/// Stands where the sound goes.
const SOUND: &str = "\u{fffc}";

fn whole(report: &ScoreReport, media: Media<'_>) -> String {
    let title = format!("{}: {}", report.drill.name, report.take.path);
    let body = html! {
        header {
            h1 { (report.drill.name) }
            button type="button" id="theme" class="no-print" { "Dark" }
        }
        main { (PreEscaped(score_sections(report, media))) }
        footer { p.quiet { "takegauge " (report.tool.version) ", seed " (report.tool.seed) } }
    };
    document(&title, &report_script(), report.camera.is_some(), body)
}

/// The sections of a report as HTML, below the reader's own heading; [`report_script`] brings them to life. Every text
/// from outside is escaped.
pub fn score_sections<'a>(report: &ScoreReport, media: impl Into<Media<'a>>) -> String {
    score_sections_with(report, media, &parts::drill_to_save)
}

/// The same with something else below each practice loop than its drill to save.
pub fn score_sections_with<'a>(report: &ScoreReport, media: impl Into<Media<'a>>, loops: LoopActions<'_>) -> String {
    let Media { sound, film } = media.into();
    let audible = !matches!(sound, SoundAt::Nowhere);
    let address = if let SoundAt::Address(a) = sound { Some(a) } else { None };
    html! {
        (parts::headline(report))
        (tablature::section(report))
        (parts::findings(report, audible))
        @if report.camera.is_some() {
            div.with-film { div { (parts::timeline(report, audible, address)) } (film::section(report)) }
        } @else {
            (parts::timeline(report, audible, address))
        }
        (parts::string_map(report))
        (parts::practice(report, loops))
        (parts::margin(report))
        (parts::groups(report))
        (parts::notes_table())
        (parts::curious(report))
        (parts::message(report))
        (parts::how_sure(report))
        p.caution { (caution()) }
        script type="application/json" id="data" { (PreEscaped(script_safe(&Data::of(report, film)))) }
        @if let SoundAt::Inside(media_type) = sound {
            script type="text/plain" id="sound" data-type=(media_type) { (PreEscaped(SOUND)) }
        }
    }
    .into_string()
}

/// A whole page with the script at its end, allowed by its hash alone.
fn document(title: &str, script: &str, film: bool, body: Markup) -> String {
    let hash = crate::plot::base64(&Sha256::digest(script.as_bytes()));
    let body = html! { (body) script { (PreEscaped(script)) } };
    // A film lies beside the report, on the disk or on a server.
    let beside = if film { " 'self' file:" } else { "" };
    page(title, &format!("script-src 'sha256-{hash}'; media-src blob: data:{beside}; "), body)
}

/// A whole page without any script.
pub(crate) fn plain_document(title: &str, body: Markup) -> String {
    page(title, "", body)
}

fn page(title: &str, allowed: &str, body: Markup) -> String {
    let policy = format!(
        "default-src 'none'; {allowed}style-src 'unsafe-inline'; img-src data:; font-src data:; base-uri 'none'; form-action 'none'"
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
            body { (body) }
        }
    }
    .into_string()
}

/// A plot as a piece of a page that has [`STYLE`]: in the page's inks, light or dark, and wide enough to read on a phone.
pub fn plot_in_page(svg: &[u8], name: &str) -> String {
    figure_svg(svg, name).into_string()
}

/// A plot as a figure: its inks become the page's, so that it follows light and dark.
pub(crate) fn figure_svg(svg: &[u8], name: &str) -> Markup {
    let text = String::from_utf8_lossy(svg);
    let mut text = text.trim_start_matches("<?xml version=\"1.0\" encoding=\"UTF-8\"?>").to_owned();
    // The page has a font of its own; a copy of the plot's in every figure would make the file large.
    if let (Some(a), Some(b)) = (text.find("<style>"), text.find("</style>")) {
        text.replace_range(a..b + "</style>".len(), "");
    }
    for (ink, variable) in [
        ("#22262B", "var(--ink)"),
        ("#6B727A", "var(--soft)"),
        ("#D9DDE1", "var(--faint)"),
        ("#FFFFFF", "var(--paper)"),
        ("#0072B2", "var(--blue)"),
        ("#D55E00", "var(--red)"),
    ] {
        text = text.replace(ink, variable);
    }
    html! { div.scroll tabindex="0" role="region" aria-label=(name) {
        figure.chart role="img" aria-label=(name) { (PreEscaped(text)) }
    } }
}

/// JSON that cannot end a script element: `<` only ever stands in strings, where `\u003c` means the same.
fn script_safe(data: &impl serde::Serialize) -> String {
    serde_json::to_string(data).unwrap_or_else(|_| "{}".to_owned()).replace('<', "\\u003c")
}
