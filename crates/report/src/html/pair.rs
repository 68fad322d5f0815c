//! Two takes of one drill held against each other: the line of either, and the same step of both to hear and to see.

use super::data::{Film, round};
use super::film::SPEEDS;
use super::{script_safe, tablature};
use maud::{Markup, PreEscaped, html};
use serde::Serialize;
use std::collections::BTreeMap;
use takegauge_review::{FindingRow, NoteRow, ScoreReport, Status};
use takegauge_stats::robust::upper_median;

/// Findings of a take that are offered.
const FINDINGS: usize = 6;
/// One of the two takes.
#[derive(Debug, Clone, Copy)]
pub struct Side<'a> {
    /// As the reader calls it: "take 12".
    pub name: &'a str,
    /// What was found of it.
    pub report: &'a ScoreReport,
    /// The address of its sound, or why it cannot be heard, in a sentence.
    pub sound: Result<&'a str, &'a str>,
    /// The address of its film, where it has one that can be shown.
    pub film: Option<&'a str>,
}

/// What the script knows of both.
#[derive(Serialize)]
struct Data {
    takes: [Played; 2],
}

/// A note: which time of the line, when, how late in ms, whether it was heard.
type Moment = (usize, f64, Option<f64>, bool);

#[derive(Serialize)]
struct Played {
    name: String,
    sound: Option<String>,
    beat_s: f64,
    /// Median peak level of its notes, dBFS: the louder take is turned down to the other's.
    level_db: Option<f64>,
    /// How often the line was begun.
    times: usize,
    /// Of each step its notes.
    steps: BTreeMap<usize, Vec<Moment>>,
    film: Option<Film>,
}

impl Played {
    fn of(side: &Side<'_>) -> Self {
        let reached = || side.report.notes.iter().filter(|n| n.status != Status::NotReached);
        let mut times: Vec<(usize, usize)> = reached().map(|n| (n.pass, n.repeat)).collect();
        times.sort_unstable();
        times.dedup();
        let mut steps: BTreeMap<usize, Vec<Moment>> = BTreeMap::new();
        for n in reached() {
            let time = times.binary_search(&(n.pass, n.repeat)).unwrap_or(0);
            let at = round(n.played_s.unwrap_or(n.expected_s), 1e4);
            let late = n.deviation_ms.map(|v| round(v, 100.0));
            steps.entry(n.position).or_default().push((time, at, late, n.status != Status::Missed));
        }
        Self {
            name: side.name.to_owned(),
            sound: side.sound.ok().map(str::to_owned),
            beat_s: round(60.0 / side.report.timebase.tempo_bpm.max(1.0), 1e4),
            level_db: level(reached()),
            times: times.len(),
            steps,
            film: side.film.and_then(|at| Film::of(side.report, Some(at))),
        }
    }
}

fn level<'a>(notes: impl Iterator<Item = &'a NoteRow>) -> Option<f64> {
    upper_median(notes.filter_map(|n| n.level_db)).map(|v| round(v, 10.0))
}

/// The steps of a finding's notes, each once, in the line's order.
fn steps(f: &FindingRow, r: &ScoreReport) -> String {
    let position = |index: &usize| r.notes.iter().find(|n| n.index == *index).map(|n| n.position);
    let mut all: Vec<usize> = f.note_indices.iter().filter_map(position).collect();
    all.sort_unstable();
    all.dedup();
    all.iter().map(usize::to_string).collect::<Vec<_>>().join(" ")
}

/// The sections of a comparison of two takes as HTML; [`super::pair_script`] brings them to life. Every text from outside
/// is escaped.
pub fn pair_sections(a: &Side<'_>, b: &Side<'_>) -> String {
    let sides = [a, b];
    let names = [format!("A, {}: the line as tablature", a.name), format!("B, {}: the line as tablature", b.name)];
    let lines = tablature::two([a.report, b.report], ["pair-line-a", "pair-line-b"], [&names[0], &names[1]]);
    let data = Data { takes: sides.map(Played::of) };
    html! {
        section id="pair" {
            h2 { "The line, in either take" }
            @for (k, line) in lines.iter().enumerate() {
                h3 { (letter(k)) ": " (sides[k].name) }
                (line)
            }
            p.quiet { (tablature::LEGEND) " Click a note to hear its step in both." }
            h2 { "The same step of both" }
            @for (k, side) in sides.iter().enumerate() {
                @if let Err(why) = side.sound { p.about { (letter(k)) " cannot be heard: " (why) } }
            }
            (controls(a.report, b.report))
            p.about id="pair-about" role="status" {}
            p.quiet.no-print {
                "The other take goes on at the same place of the line: X switches, space plays and stops, N and P go to a finding's next and previous step, while anything of this part has the focus. Keep listening levels moderate."
            }
            (films(&data.takes))
            (findings(sides))
            @for (id, side) in ["pair-sound-a", "pair-sound-b"].iter().zip(sides) {
                audio id=(id) preload="auto" src=[side.sound.ok()] {}
            }
            script type="application/json" id="pair-data" { (PreEscaped(script_safe(&data))) }
            noscript { p { "Hearing both needs JavaScript; either take's own page plays it." } }
        }
    }
    .into_string()
}

fn letter(k: usize) -> &'static str {
    if k == 0 { "A" } else { "B" }
}

fn controls(a: &ScoreReport, b: &ScoreReport) -> Markup {
    html! {
        div.controls role="group" aria-label="Which step" {
            label { "Step" select id="pair-step" {
                @for (step, words) in tablature::steps_of([a, b]) { option value=(step) { (words) } }
            } }
            label { "Time" select id="pair-time" { option value="" { "the most usual of each" } } }
            button type="button" id="pair-back" disabled { "Previous step" }
            button type="button" id="pair-on" disabled { "Next step" }
        }
        div.controls role="group" aria-label="Hear A and B" {
            button type="button" id="pair-play" { "Play" }
            button type="button" id="pair-a" aria-pressed="true" { "A" }
            button type="button" id="pair-b" aria-pressed="false" { "B" }
            label { "Speed" select id="pair-speed" { @for (rate, name) in SPEEDS { option value=(rate) { (name) } } } }
            label { input type="checkbox" id="pair-loop" checked; "again and again, a beat before to a beat after" }
            label { input type="checkbox" id="pair-level" checked; "equally loud" }
        }
    }
}

fn films(takes: &[Played; 2]) -> Markup {
    match takes.each_ref().map(|t| t.film.is_some()) {
        [false, false] => html! {},
        [true, true] => html! {
            h3.no-print { "Both films" }
            div.film.no-print id="pair-films" {
                div.pictures {
                    @for (k, take) in takes.iter().enumerate() {
                        figure {
                            video playsinline preload="auto" muted tabindex="0" aria-label={ "The film of " (letter(k)) ", " (take.name) ", at the chosen step" } {}
                            figcaption aria-live="polite" {}
                        }
                    }
                }
                p.about id="pair-lost" role="status" {}
                div.controls role="group" aria-label="Both films" {
                    button type="button" id="pair-film-play" { "Play the films" }
                    button type="button" id="pair-film-stop" { "To the attack" }
                    button type="button" id="pair-film-back" { "Frame back" }
                    button type="button" id="pair-film-on" { "Frame on" }
                }
                p.quiet { "Both stand at their attack of the chosen step, and play from just before it. What the hands do in them, the eye has to tell." }
            }
        },
        [a, _] => html! { p.quiet { "Only " (letter(usize::from(!a))) " has a film that can be shown." } },
    }
}

fn findings(sides: [&Side<'_>; 2]) -> Markup {
    html! {
        h2 { "What stood out in either" }
        @for (k, side) in sides.iter().enumerate() {
            h3 { (letter(k)) ": " (side.name) }
            @if side.report.findings.is_empty() { p { (crate::words::nothing(side.report)) } }
            @else { ol.findings { @for f in side.report.findings.iter().take(FINDINGS) { li {
                p { (f.text) }
                @let steps = steps(f, side.report);
                @if !steps.is_empty() { div.buttons { button type="button" data-steps=(steps) { "Hear its steps in both" } } }
            } } } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stored() -> ScoreReport {
        serde_json::from_str(include_str!("../../../journal/src/packing-1.json")).unwrap()
    }

    #[test]
    fn each_side_knows_when_every_step_was_played_and_how_late() {
        let mut r = stored();
        (r.notes[1].status, r.notes[1].played_s, r.notes[1].deviation_ms) = (Status::Missed, None, None);
        let side = Side { name: "take <1>", report: &r, sound: Ok("/takes/1/sound"), film: Some("/takes/1/film") };
        let played = Played::of(&side);
        let of: usize = played.steps.values().map(Vec::len).sum();
        assert_eq!(of, r.notes.iter().filter(|n| n.status != Status::NotReached).count());
        let missed = &played.steps[&r.notes[1].position];
        assert!(missed.contains(&(0, round(r.notes[1].expected_s, 1e4), None, false)), "{missed:?}");
        assert!(played.film.is_none(), "no film was laid over this take");
        let html = pair_sections(&side, &side);
        assert!(html.contains("take &lt;1&gt;") && !html.contains("take <1>"));
        assert!(html.contains("src=\"/takes/1/sound\"") && !html.contains("NaN"));
    }

    #[test]
    fn what_cannot_be_heard_is_said() {
        let r = stored();
        let there = Side { name: "take 1", report: &r, sound: Ok("/takes/1/sound"), film: None };
        let gone = Side { name: "take 2", sound: Err("its recording is gone."), ..there };
        let html = pair_sections(&there, &gone);
        assert!(html.contains("B cannot be heard: its recording is gone.") && !html.contains("A cannot be heard"));
        assert_eq!(html.matches("<audio").count(), 2);
        assert_eq!(html.matches(" src=").count(), 1);
    }

    #[test]
    fn the_steps_of_a_finding_stand_once_and_in_order() {
        let r = stored();
        let f = FindingRow { note_indices: vec![5, 2, 2, 9_999], ..finding() };
        let position = |i: usize| r.notes.iter().find(|n| n.index == i).unwrap().position;
        assert_eq!(steps(&f, &r), format!("{} {}", position(2), position(5)));
    }

    fn finding() -> FindingRow {
        FindingRow {
            group: takegauge_review::GroupKey::Change,
            measure: takegauge_review::Measure::Bias,
            label: "changes".to_owned(),
            value: 1.0,
            unit: takegauge_review::Unit::Milliseconds,
            ci95: None,
            n: 1,
            p_adjusted: None,
            above_hearing_limit: None,
            text: "x".to_owned(),
            advice: String::new(),
            note_indices: Vec::new(),
            note_times_s: Vec::new(),
            or_also: Vec::new(),
        }
    }
}
