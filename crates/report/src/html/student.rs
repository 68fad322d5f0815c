//! One page to print for a student: the line as it was played, what was heard, how sure that is, what comes next, and
//! loops with tempos to tick off.

use super::{plain_document, tablature};
use crate::brief::sentences;
use crate::words;
use maud::{Markup, html};
use takegauge_review::{PlanItem, ScoreReport, caution};

/// Loops that a page has room for, and tempos of each.
const LOOPS: usize = 3;
const TEMPOS: usize = 9;

/// The page as one file. `player` and `day` stand at its head where they are known.
pub fn student_html(report: &ScoreReport, player: Option<&str>, day: Option<&str>) -> String {
    let title = format!("{}{}", report.drill.name, player.map(|p| format!(", {p}")).unwrap_or_default());
    plain_document(&title, html! { h1 { (report.drill.name) } (sections(report, player, day)) })
}

/// The same below a reader's own heading. Every text from outside is escaped.
pub fn student_sections(report: &ScoreReport, player: &str, day: &str) -> String {
    sections(report, Some(player), Some(day)).into_string()
}

fn sections(r: &ScoreReport, player: Option<&str>, day: Option<&str>) -> Markup {
    let [what, how_sure, next] = sentences(r);
    html! { div.hand-out {
        p.meta {
            @if let Some(player) = player { (player) ", " }
            @if let Some(day) = day { (day) ", " }
            (words::rate(r))
        }
        h2 { "What was heard" }
        p { (what) }
        p { (how_sure) }
        h2 { "The line, as played" }
        (tablature::averaged(r))
        p.quiet { (tablature::LEGEND) }
        h2 { "What to practise" }
        p { (next) }
        @for p in r.plan.iter().take(LOOPS) { (practice_loop(p, r.drill.tempo_bpm.max(r.timebase.tempo_bpm))) }
        p.caution { (caution()) }
        p.quiet { "A recording does not show strokes: they are the drill's." }
    } }
}

/// A loop with a box to tick for each tempo on the way to the goal.
fn practice_loop(p: &PlanItem, goal_bpm: f64) -> Markup {
    html! {
        div.loop {
            p { b { (p.what.trim_end_matches('.')) } }
            @if !p.tab.is_empty() { pre.tab { (p.tab.join("\n")) } }
            ul.ticks aria-label="Tempos to tick off" {
                @for bpm in tempos(p, goal_bpm) { li { span.box {} " " (format!("{bpm:.0}")) } }
                li { "bpm" }
            }
            p.quiet { (p.stop.replace(caution(), "").trim()) " " (p.rest) }
        }
    }
}

/// From where the loop begins, a step at a time, to the goal; the goal last.
fn tempos(p: &PlanItem, goal_bpm: f64) -> Vec<f64> {
    if !(p.start_bpm > 0.0 && p.step_bpm > 0.0) {
        return Vec::new();
    }
    let mut all: Vec<f64> =
        (0..TEMPOS - 1).map(|k| p.start_bpm + k as f64 * p.step_bpm).take_while(|bpm| bpm + 0.5 < goal_bpm).collect();
    all.push(goal_bpm.max(p.start_bpm));
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one_loop() -> PlanItem {
        PlanItem {
            what: "From string 2 to 1, looped.".to_owned(),
            why: "late".to_owned(),
            drill_toml: String::new(),
            tab: vec!["1 |-8-:|".to_owned()],
            start_bpm: 100.0,
            step_bpm: 5.0,
            burst_bpm: None,
            stop: "Stop when it scatters.".to_owned(),
            rest: "Two minutes.".to_owned(),
        }
    }

    fn stored() -> ScoreReport {
        let r: ScoreReport = serde_json::from_str(include_str!("../../../journal/src/packing-1.json")).unwrap();
        ScoreReport { plan: vec![one_loop(); 4], ..r }
    }

    #[test]
    fn a_page_holds_name_day_line_sentences_loops_and_cautions() {
        let r = stored();
        let page = student_html(&r, Some("Ada <b>"), Some("2026-11-29"));
        assert!(page.contains("Ada &lt;b&gt;, 2026-11-29, ") && !page.contains("Ada <b>"));
        assert!(page.contains("class=\"tab-line\"") && page.contains(caution()) && !page.contains("<script"));
        assert_eq!(page.matches("class=\"ticks\"").count(), LOOPS);
        let nobody = student_html(&r, None, None);
        assert!(nobody.contains(&format!("<p class=\"meta\">{}", words::rate(&r))));
    }

    #[test]
    fn tempos_rise_by_steps_and_end_at_the_goal() {
        let mut p = one_loop();
        assert_eq!(tempos(&p, 118.0), [100.0, 105.0, 110.0, 115.0, 118.0]);
        assert_eq!(tempos(&p, 90.0), [100.0], "above the goal already");
        assert_eq!(tempos(&p, 400.0).len(), TEMPOS);
        p.step_bpm = 0.0;
        assert!(tempos(&p, 118.0).is_empty());
    }
}
