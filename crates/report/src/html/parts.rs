//! The report's sections.

use crate::brief::score_brief;
use crate::columns::{Layout, columns};
use crate::words::{self, clock, early_late, figure, signed};
use maud::{Markup, html};
use std::collections::BTreeSet;
use takegauge_drill::ChangeKind;
use takegauge_review::declared::{BIAS, N, SMEAR, SMEAR_N, SPREAD};
use takegauge_review::{
    ChangeRow, FindingRow, GroupKey, GroupRow, Mode, PlanItem, SHORTEST_SMEAR, ScoreReport, apart, caution,
};

pub(super) fn headline(r: &ScoreReport) -> Markup {
    html! {
        p.meta { (r.take.path) ", " (words::rate(r)) }
        div.headline { @for s in &r.summary.headline { p { (s) } } }
    }
}

/// As many findings as fit on the printed page beside the rest.
const HAND_OUT_FINDINGS: usize = 4;
/// Groups whose margin is printed.
const HAND_OUT_MARGINS: usize = 3;

/// "pass:index" of a finding's notes: an index alone means the first pass in which the note was reached.
fn keys(f: &FindingRow, r: &ScoreReport) -> Vec<String> {
    let mut out = Vec::new();
    for (index, at) in f.note_indices.iter().zip(&f.note_times_s) {
        let near =
            |n: &&takegauge_review::NoteRow| n.index == *index && (n.played_s.unwrap_or(n.expected_s) - at).abs() < 0.5;
        let pass = r.notes.iter().find(near).map_or(0, |n| n.pass);
        out.push(format!("{pass}:{index}"));
    }
    out
}

pub(super) fn findings(r: &ScoreReport, audio: bool) -> Markup {
    html! {
        h2 { "What stands out" }
        @if r.findings.is_empty() { p { (words::nothing(r)) } }
        @else {
            ol.findings { @for (i, f) in r.findings.iter().enumerate() { li.more[i >= HAND_OUT_FINDINGS] {
                p { (f.text) }
                @if !f.or_also.is_empty() { p.quiet { "This take cannot tell it apart from: " (words::also(f, r)) "." } }
                @if !f.advice.is_empty() { p { "Try: " (f.advice) } }
                @let keys = keys(f, r);
                @if !keys.is_empty() {
                    div.buttons {
                        button type="button" data-notes=(keys.join(" ")) { "Show its notes" }
                        @if r.camera.is_some() { button.see type="button" data-notes=(keys.join(" ")) { "See its notes in the film" } }
                        @for (key, at) in keys.iter().zip(&f.note_times_s).take(6) {
                            button type="button" data-notes=(key) { @if audio { "Hear " } @else { "Go to " } (clock(*at)) }
                        }
                    }
                }
            } } }
            @if r.findings.len() > HAND_OUT_FINDINGS {
                p.quiet.print-only { (r.findings.len() - HAND_OUT_FINDINGS) " more in the report itself." }
            }
        }
        @if !r.may_be_instrument.is_empty() {
            h3 { (words::MAY_BE_INSTRUMENT) }
            ul { @for f in &r.may_be_instrument { li { (f.text) } } }
        }
    }
}

pub(super) fn timeline(r: &ScoreReport, audio: bool, address: Option<&str>) -> Markup {
    html! {
        h2 { "The take, note by note" }
        div.controls role="group" aria-label="View" {
            button type="button" id="zoom-in" { "Closer" }
            button type="button" id="zoom-out" { "Wider" }
            button type="button" id="earlier" { "Earlier" }
            button type="button" id="later" { "Later" }
            button type="button" id="whole" { "Whole take" }
        }
        figure {
            div.timeline {
                canvas id="timeline" tabindex="0" role="application"
                    aria-label="Deviation of every note in milliseconds along the take. Arrow keys go from note to note, plus and minus zoom, Shift and arrows move, Home shows all." {}
            }
            ul.legend {
                li { svg viewBox="0 0 16 16" aria-hidden="true" { circle.fill cx="8" cy="8" r="3" {} } "same string" }
                li { svg viewBox="0 0 16 16" aria-hidden="true" { circle cx="8" cy="8" r="4.5" {} } "outside change" }
                li { svg viewBox="0 0 16 16" aria-hidden="true" { path d="M8 2.5 13.5 8 8 13.5 2.5 8Z" {} } "inside change" }
                li { svg viewBox="0 0 16 16" aria-hidden="true" { path d="M8 3 13 13H3Z" {} } "sweep" }
                li { svg viewBox="0 0 16 16" aria-hidden="true" { path d="M3.5 3.5h9v9h-9Z" {} } "other change" }
                li { svg viewBox="0 0 16 16" aria-hidden="true" { path.red d="M4 4 12 12M4 12 12 4" {} } "not heard" }
                li { svg viewBox="0 0 16 16" aria-hidden="true" { circle.red cx="8" cy="8" r="6" {} } "wrong pitch (ring)" }
                li { svg viewBox="0 0 16 16" aria-hidden="true" { path.blue d="M8 3V13M3 8H13" {} } "extra attack" }
            }
            figcaption {
                "Up is late, down is early; thin lines are the detector's own uncertainty (1 SD)."
                // Printed, strokes stand under how sure this is.
                span.no-print {
                    " Close up, dotted lines are where the grid has a note, and each note has its string and fret beside it, as 3:7. "
                    (r.summary.strokes_note)
                }
            }
        }
        p.about id="about" aria-live="polite" { "Click a note, or focus the picture and use the arrow keys." }
        @if audio { (player(address)) }
    }
}

fn player(address: Option<&str>) -> Markup {
    html! {
        div.controls role="group" aria-label="Sound" {
            button type="button" id="play" { "Play" }
            button type="button" id="hear" { "Hear this note" }
            label { "Speed" select id="speed" {
                option value="1" { "100 %" } option value="0.5" { "50 %" } option value="0.25" { "25 %" }
            } }
            label { "Loop" select id="loop" {
                option value="off" { "off" } option value="beats" { "two beats around the note" } option value="repeat" { "its repeat" }
            } }
            label { input type="checkbox" id="grid-click"; "click on the fitted grid" }
        }
        p.quiet.no-print { "Keep listening levels moderate." }
        audio id="audio" preload="auto" src=[address] {}
    }
}

/// A pair of strings, the smaller number first, and the changes toward string 1 and away from it.
type Pair<'a> = ((u8, u8), [Vec<&'a ChangeRow>; 2]);

/// Every pair of strings that the pick went between as a column: early or late, scatter, ringing over. What all cells
/// would say alike is said once, above them.
pub(super) fn string_map(r: &ScoreReport) -> Markup {
    if r.changes.is_empty() {
        return html! {};
    }
    let mut pairs: Vec<Pair<'_>> = Vec::new();
    for c in &r.changes {
        let pair = (c.from.min(c.to), c.from.max(c.to));
        let at = pairs.iter().position(|(p, _)| *p == pair).unwrap_or_else(|| {
            pairs.push((pair, [Vec::new(), Vec::new()]));
            pairs.len() - 1
        });
        pairs[at].1[usize::from(c.to > c.from)].push(c);
    }
    pairs.sort_by_key(|(pair, _)| *pair);
    let counts: BTreeSet<usize> = r.changes.iter().map(|c| c.row.figures.count(&N)).collect();
    let each = counts.first().copied().filter(|_| counts.len() == 1 && r.changes.len() > 1);
    let ringing = |c: &ChangeRow| c.row.figures.value(&SMEAR);
    let shortest = r.changes.iter().filter(|c| ringing(c).is_some_and(at_shortest)).count();
    let unknown = r.changes.iter().filter(|c| ringing(c).is_none()).count();
    let cell =
        |rows: &[&ChangeRow]| html! { td.none[rows.is_empty()] { @for c in rows { (map_cell(c, each.is_none())) } } };
    html! {
        h2 { "From string to string" }
        p.quiet {
            "Early (-) or late (+) on average, then scatter, in ms. String 1 is nearest the floor. "
            @if let Some(n) = each { "Each rests on " (words::count(n, "note", "notes")) ". " }
            @if shortest > 0 {
                "Where nothing is said of it, the string left rings over for "
                (format!("{:.0}", SHORTEST_SMEAR.0)) " ms or less, which cannot be told apart. "
            }
            @if unknown > 0 && shortest > 0 { "\"?\": ringing over is not known there." }
        }
        div.scroll tabindex="0" role="region" aria-label="From string to string" { table.map {
            thead { tr { th scope="col" { "strings" } @for ((a, b), _) in &pairs { th scope="col" { (a) " and " (b) } } } }
            tbody { @for (way, name) in ["toward 1", "away from 1"].iter().enumerate() {
                @if pairs.iter().any(|(_, of)| !of[way].is_empty()) { tr {
                    th scope="row" { (name) }
                    @for (_, of) in &pairs { (cell(&of[way])) }
                } }
            } }
        } }
    }
}

/// Whether ringing over is no longer than can be told.
fn at_shortest(ms: f64) -> bool {
    ms < SHORTEST_SMEAR.0 + 0.05
}

fn map_cell(c: &ChangeRow, with_n: bool) -> Markup {
    let g = &c.row;
    let spread = words::spread(g.figures.value(&SPREAD), None);
    let kind = c.kind.map_or("no kind", ChangeKind::name);
    html! {
        @match g.figures.value(&BIAS) { Some(b) => (signed(b)), None => span.quiet { "few" } }
        small { (kind) }
        @if !spread.is_empty() { small { "scatter " (spread) } }
        @match g.figures.value(&SMEAR) {
            Some(s) if at_shortest(s) => {}
            Some(s) => small { "rings " (words::rings(s, g.figures.count(&SMEAR_N))) }
            None => small { "rings ?" }
        }
        @if with_n { small { "n " (g.figures.count(&N)) } }
    }
}

/// The kinds of string change and what stands out; every other kind folded.
pub(super) fn groups(r: &ScoreReport) -> Markup {
    if r.groups.is_empty() {
        return html! {};
    }
    let apart = apart(r);
    let (shown, rest): (Vec<&GroupRow>, Vec<&GroupRow>) =
        r.groups.iter().partition(|g| apart.contains(&g.group) || yardstick(g));
    // As many as the findings that are printed: the hand-out is one page.
    let printed: Vec<GroupKey> = r.findings.iter().take(HAND_OUT_FINDINGS).map(|f| f.group).collect();
    let some_few = shown.iter().any(|g| words::few(g.figures.count(&N)));
    let shape = Shape { apart: &apart, printed: &printed };
    html! {
        h2 { "By kind of note" }
        p.quiet {
            "In ms; + is late, - is early, against the notes that no finding is about; 95 % intervals. "
            @if apart.is_empty() { "No kind of note stands out beyond chance. " }
            @else { span.no-print { "In bold: what a finding speaks of or what comes early or late beyond chance, all kinds of note taken together. " } }
            span.no-print[!some_few] { "\"few\": fewer than 8 notes, which are counted only; n beside a figure: it rests on so few." }
        }
        div.scroll tabindex="0" role="region" aria-label="By kind of note" { (group_table(shown.into_iter(), &shape)) }
        @if !rest.is_empty() { details {
            summary { (words::count(rest.len(), "other kind of note does", "other kinds of note do")) " not stand out" }
            div.scroll tabindex="0" role="region" aria-label="Kinds of note that do not stand out" { (group_table(rest.into_iter(), &shape)) }
        } }
        details { summary { "Every pair of strings and kind of change" }
            div.scroll tabindex="0" role="region" aria-label="Every pair of strings and kind of change" { (group_table(r.changes.iter().map(|c| &c.row), &shape)) }
        }
    }
}

/// The rows that the others are read against; a hand-out has room for them.
fn yardstick(g: &GroupRow) -> bool {
    matches!(g.group, GroupKey::SameString | GroupKey::Change | GroupKey::Kind(_))
}

/// Which rows stand out, and which of these are printed.
struct Shape<'a> {
    apart: &'a BTreeSet<GroupKey>,
    printed: &'a [GroupKey],
}

fn group_table<'a>(rows: impl Iterator<Item = &'a GroupRow>, shape: &Shape<'_>) -> Markup {
    let columns = columns(Layout::Page);
    let few = |g: &GroupRow| words::few(g.figures.count(&N));
    html! { table.groups {
        thead { tr { th scope="col" { "notes" } @for c in &columns { th scope="col" { (c.head) } } } }
        tbody { @for g in rows { tr.more[!yardstick(g) && !shape.printed.contains(&g.group)].few[few(g)].apart[shape.apart.contains(&g.group)] {
            th scope="row" { (g.label) @if few(g) { " (few)" } }
            @for c in &columns { td { (c.cell(&g.figures)) } }
        } } }
    } }
}

pub(super) fn notes_table() -> Markup {
    html! {
        details id="all-notes" { summary { "All notes as a table" }
            div.buttons {
                button type="button" id="note-back" { "Back" }
                button type="button" id="note-on" { "On" }
                span.quiet id="note-page" aria-live="polite" {}
            }
            div.scroll { table {
                thead { tr {
                    @for name in ["note", "pass", "repeat", "step", "string", "fret", "stroke", "change", "", "expected s", "played s", "late + ms", "+- ms", "rings over ms"] {
                        th scope="col" { (name) }
                    }
                } }
                tbody id="note-rows" {}
            } }
        }
    }
}

/// What stands below each practice loop of a report: its place in the plan, and the loop.
pub type LoopActions<'a> = &'a dyn Fn(usize, &PlanItem) -> Markup;

/// The drill of a loop to save, where the report stands alone.
pub(super) fn drill_to_save(_: usize, p: &PlanItem) -> Markup {
    let text = crate::plot::base64(p.drill_toml.as_bytes());
    let name: String = p.what.chars().map(|c| if c.is_ascii_alphanumeric() || c == ' ' { c } else { '-' }).collect();
    let name = format!("{}.toml", name.trim_matches(['-', ' ']));
    html! { p.no-print { a download=(name) href={ "data:application/toml;base64," (text) } { "Save the drill" } } }
}

pub(super) fn practice(r: &ScoreReport, actions: LoopActions<'_>) -> Markup {
    if r.plan.is_empty() {
        return html! {};
    }
    html! {
        h2 { "What to practise next" }
        ol.findings { @for (i, p) in r.plan.iter().enumerate() { li {
            div.recipe {
                div {
                    p { (p.what.trim_end_matches('.')) ". Start at " (format!("{:.0}", p.start_bpm)) " bpm, up by " (format!("{:.0}", p.step_bpm))
                        @if let Some(b) = p.burst_bpm { ", short bursts at " (format!("{b:.0}")) } ". " (p.stop.replace(caution(), "").trim()) " " (p.rest) }
                    p.quiet { "Because: " (p.why) }
                }
                @if !p.tab.is_empty() { pre.tab { (p.tab.join("\n")) } }
            }
            (actions(i, p))
        } } }
    }
}

pub(super) fn margin(r: &ScoreReport) -> Markup {
    let groups = r.groups.iter().filter_map(|g| g.outside_text.as_ref().map(|t| format!("{}: {t}", g.label)));
    let groups: Vec<String> = groups.take(6).collect();
    if r.reliability.text.is_empty() && groups.is_empty() && r.along.text.is_empty() {
        return html! {};
    }
    html! {
        h2 { "Margin, and what changes along the take" }
        ul.plain {
            @if !r.reliability.text.is_empty() { li { (r.reliability.text) } }
            @for (i, line) in groups.iter().enumerate() { li.more[i >= HAND_OUT_MARGINS] { (line) } }
            @for line in &r.along.text { li { (line) } }
        }
    }
}

fn list(title: &str, lines: &[String]) -> Markup {
    if lines.is_empty() {
        return html! {};
    }
    html! { h2 { (title) } ul.plain { @for l in lines { li { (l) } } } }
}

pub(super) fn curious(r: &ScoreReport) -> Markup {
    let c = &r.curious;
    let lines = [
        ("Inter-onset intervals, SD", figure(&r.summary.ioi_sd_ms, "ms", 1)),
        ("The same at every repeat (SD of the places' means)", figure(&c.systematic_sd_ms, "ms", 1)),
        ("From repeat to repeat", figure(&c.trial_sd_ms, "ms", 1)),
        ("nPVI of intervals over nominal lengths", figure(&c.npvi, "", 1)),
        ("Lag-1 autocorrelation of intervals", figure(&c.lag1, "", 2)),
        ("Timing split, timekeeper SD", figure(&c.timekeeper_sd_ms, "ms", 1)),
        ("Timing split, motor SD", figure(&c.motor_sd_ms, "ms", 1)),
        ("Mean resultant length around the step", figure(&c.resultant_length, "", 3)),
    ];
    html! { details { summary { "For the curious" } ul.plain { @for (name, value) in lines { li { (name) ": " (value) } } } } }
}

/// Three lines as plain text, to be copied.
pub(super) fn message(r: &ScoreReport) -> Markup {
    html! { details { summary { "As a message" } pre.message { (r.drill.name) "\n" (score_brief(r)) } } }
}

pub(super) fn how_sure(r: &ScoreReport) -> Markup {
    let t = &r.timebase;
    let mut lines = vec![
        format!("Scatter {}.", words::scatter(r)),
        format!(
            "Tempo {:.2} bpm as played ({}; sought from: {}), mode {}.",
            t.tempo_bpm,
            words::tempo_against(t, r.drill.tempo_bpm),
            words::tempo_from(t.tempo_from),
            words::mode(t.mode)
        ),
    ];
    if let Some(ms) = t.from_click_ms {
        lines.push(format!("{} against the click on average.", early_late(ms)));
    } else if let Some(why) = &t.from_click_withheld
        && t.mode == Mode::Click
    {
        lines.push(format!("The distance from the click is withheld: {why}."));
    }
    if t.cents_off.abs() >= 5.0 {
        lines.push(format!(
            "The guitar is {:+.0} cents off the drill's pitch; notes are judged at its own.",
            t.cents_off
        ));
    }
    lines.push(format!("Tuning {}; channel: {}.", r.drill.tuning, r.take.channel_used));
    let (first, between, last) = words::ends(&r.passes, words::MOST_PASSES);
    for (k, p) in first.iter().chain(last).enumerate().filter(|_| r.passes.len() > 1) {
        if between > 0 && k == first.len() {
            lines.push(format!("{between} more passes: see --json."));
        }
        lines.push(format!(
            "Pass {}: {} to {}, {:.1} bpm, {} reached.",
            p.pass + 1,
            clock(p.from_s),
            clock(p.to_s),
            p.tempo_bpm,
            words::count(p.notes_reached, "note", "notes")
        ));
    }
    lines
        .extend(r.set_aside.iter().map(|s| format!("Set aside: {} to {}, {}.", clock(s.from_s), clock(s.to_s), s.why)));
    lines.extend(r.warnings.iter().cloned());
    lines.push(r.summary.strokes_note.clone());
    list("How sure this is", &lines)
}
