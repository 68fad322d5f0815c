//! The drills, and one drill with a place to drop takes of it.

use super::send::form;
use crate::choice::Choice;
use crate::frame::{address, layout};
use crate::practised::Practised;
use crate::state::App;
use maud::{Markup, PreEscaped, html};
use takegauge_drill::{ChangeKind, Drill, change_counts, kind_words, leaving};
use takegauge_report::drill_line;

/// Steps of a line that the list draws, and that a drill's own page draws.
const STEPS_IN_LIST: usize = 64;
const STEPS: usize = 512;

/// A drill of the list.
pub(crate) struct Shown {
    /// As in [`Choice`].
    pub(crate) kind: &'static str,
    pub(crate) key: String,
    pub(crate) drill: Drill,
    /// Who played it, the latest first.
    pub(crate) history: Vec<Practised>,
}

impl Shown {
    /// One without a history.
    pub(crate) fn plain(kind: &'static str, key: &str, drill: Drill) -> Self {
        Self { kind, key: key.to_owned(), drill, history: Vec::new() }
    }
}

pub(crate) fn drills(app: &App, all: &[Shown]) -> String {
    let parts =
        [("own", "Sent since the program started"), ("journal", "Played, in the journal"), ("ready", "Ready to use")];
    let played: Vec<String> = all.iter().filter(|s| s.kind == "journal").map(|s| s.drill.played_toml()).collect();
    let body = html! {
        p.quiet { "Above each line its strokes; a circle at outside changes, a diamond at inside ones, a triangle at sweeps, a square at others." }
        @for (kind, title) in parts {
            @let of: Vec<&Shown> = all.iter().filter(|s| s.kind == kind).collect();
            @if !of.is_empty() {
                h2 { (title) }
                @for s in of {
                    section.drill {
                        h3 { a href={ "/drills/" (s.kind) "/" (s.key) } { (s.drill.name) } }
                        (asks(&s.drill))
                        (PreEscaped(drill_line(&s.drill, STEPS_IN_LIST)))
                        (history(&s.history, &s.key))
                        @if s.kind != "journal" && played.contains(&s.drill.played_toml()) { p.quiet { "Its takes stand under what was played, in the journal." } }
                    }
                }
            }
        }
    };
    layout(Some(app.token()), "/drills", "Drills", &["theme.js"], body)
}

/// Tempo, length and changes in a line.
fn asks(drill: &Drill) -> Markup {
    let grid = drill.grid();
    let mut counts: Vec<(Option<ChangeKind>, usize)> = Vec::new();
    for c in change_counts(&grid) {
        match counts.iter_mut().find(|(kind, _)| *kind == c.change.kind) {
            Some((_, n)) => *n += c.count,
            None => counts.push((c.change.kind, c.count)),
        }
    }
    counts.sort_by_key(|(kind, _)| (kind.is_none(), *kind));
    let changes = counts.iter().map(|(kind, n)| format!("{} {n}", kind_words(*kind))).collect::<Vec<_>>().join(", ");
    let leaves = leaving(&grid);
    let times = if drill.repeats == 1 { "once".to_owned() } else { format!("{} times", drill.repeats) };
    html! { p.quiet {
        (drill.tempo.0) " bpm, " (times) ", " (grid.len()) " notes. "
        @if counts.is_empty() { "No string change." }
        @else {
            "String changes: " (changes) "."
            @if leaves.up + leaves.down > 0 { " Leaves on upstrokes " (leaves.up) ", on downstrokes " (leaves.down) "." }
        }
    } }
}

/// Who played it; `key` is its row in the journal.
fn history(all: &[Practised], key: &str) -> Markup {
    html! { @if !all.is_empty() { ul.plain.history { @for p in all {
        @let [slow, fast] = p.tempo_bpm;
        li {
            b { (p.player) } ": " (p.takes) @if p.takes == 1 { " take, " } @else { " takes, the last on " } (p.last) ", "
            @if fast - slow < 1.0 { (format!("{fast:.0}")) } @else { (format!("{slow:.0} to {fast:.0}")) } " bpm "
            (small_trend(&p.scatter_ms)) " "
            a href=(address("/takes", &[("player", &p.player), ("drill", key)])) { "takes" } " "
            a href=(address("/trend", &[("player", &p.player), ("drill", key)])) { "trend" } " "
            a href=(address("/ladder", &[("player", &p.player), ("drill", key)])) { "ladder" } " "
            @if let Some((first, last)) = p.ends {
                a href=(address("/compare", &[("first", &first.to_string()), ("second", &last.to_string())])) { "compare the first with the last" }
            }
        }
    } } } }
}

/// Scatter, take by take: a line too small to read figures from, with its ends in words.
fn small_trend(values: &[f64]) -> Markup {
    const WIDTH: f64 = 110.0;
    const HEIGHT: f64 = 24.0;
    let ([first, .., last], true) = (values, values.len() > 2) else { return html! {} };
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // A quiet history must not look wild: at least 1 ms from foot to head.
    let span = (high - low).max(1.0);
    let middle = 0.5 * (high + low);
    let point = |(k, v): (usize, &f64)| {
        let x = 3.0 + (WIDTH - 6.0) * k as f64 / (values.len() - 1) as f64;
        (x, HEIGHT / 2.0 - (HEIGHT - 8.0) * (v - middle) / span)
    };
    let points: Vec<(f64, f64)> = values.iter().enumerate().map(point).collect();
    let line = points.iter().map(|(x, y)| format!("{x:.1},{y:.1}")).collect::<Vec<_>>().join(" ");
    let figures = values.iter().map(|v| format!("{v:.1}")).collect::<Vec<_>>().join(", ");
    html! {
        span.quiet { "scatter " (format!("{first:.1} ")) }
        svg.small-trend width=(WIDTH) height=(HEIGHT) viewBox=(format!("0 0 {WIDTH} {HEIGHT}")) role="img"
            aria-label=(format!("Scatter take by take at like tempo, ms: {figures}")) {
            polyline points=(line) {}
            @if let Some((x, y)) = points.last() { circle cx=(format!("{x:.1}")) cy=(format!("{y:.1}")) r="2.5" {} }
        }
        span.quiet { (format!(" {last:.1} ms")) }
    }
}

pub(crate) fn drill(
    app: &App,
    drill: &Drill,
    all: &[Choice],
    chosen: Option<&Choice>,
    played: Option<&Shown>,
) -> String {
    let body = html! {
        @if !drill.note.is_empty() { p { (drill.note) } }
        (asks(drill))
        (PreEscaped(drill_line(drill, STEPS)))
        h2 { "A take of it" }
        (form(app, all, chosen))
        @if let Some(played) = played {
            h2 { "Its history" }
            (history(&played.history, &played.key))
        }
        h2 { "In words" }
        pre tabindex="0" { (drill.show()) }
        details { summary { "The drill, as a file" } pre tabindex="0" { (drill.to_toml()) } }
    };
    layout(Some(app.token()), "", &drill.name, &["theme.js", "send.js"], body)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_small_trend_tells_its_figures_and_stays_in_its_frame() {
        assert_eq!(small_trend(&[4.0, 3.0]).into_string(), "");
        let svg = small_trend(&[4.0, 30.0, 3.0, 3.1]).into_string();
        assert!(svg.contains("ms: 4.0, 30.0, 3.0, 3.1") && svg.contains("scatter 4.0 ") && svg.contains(" 3.1 ms"));
        let points = svg.split("points=\"").nth(1).unwrap().split('"').next().unwrap();
        for p in points.split(' ') {
            let (x, y) = p.split_once(',').unwrap();
            let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
            assert!((0.0..=110.0).contains(&x) && (0.0..=24.0).contains(&y), "{p}");
        }
        // All alike: a level line, and no division by nothing.
        assert!(!small_trend(&[2.0; 5]).into_string().contains("NaN"));
    }
}
