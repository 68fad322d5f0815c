//! One picture: a few steps of the line, in CSS pixels.

use super::{Line, Place};
use maud::{Markup, html};
use takegauge_drill::{ChangeKind, Stroke};

/// Width of a step.
const STEP: usize = 32;
/// From string to string.
const GAP: usize = 16;
/// Middle of the strokes' row, and of the changes' row.
const STROKES: usize = 10;
const CHANGES: usize = 27;
/// The first string.
const TOP: usize = 46;
/// From the last string to the bars' middle, and on to the figures' foot.
const BARS: usize = 18;
const FIGURES: usize = 19;
const FOOT: usize = 5;

/// The steps from `from` on, as far as one picture goes.
pub(super) fn group(line: &Line, from: usize) -> String {
    let steps = line.group.min(line.steps().saturating_sub(from));
    let last = TOP + GAP * usize::from(line.strings.max(1) - 1);
    let places = line.places.range(from..from + steps).map(|(_, p)| p);
    if !line.played {
        return asked(line, from, steps, last, places);
    }
    let (width, height) = (STEP * steps, last + BARS + FIGURES + FOOT);
    let first = line.places.keys().next();
    html! {
        svg width=(width) height=(height) viewBox=(format!("0 0 {width} {height}")) role="group"
            aria-label=(format!("Steps {} to {}", from + 1, from + steps)) {
            (strings(line, width))
            line.string x1="0.5" x2="0.5" y1=(last + BARS - 6) y2=(last + BARS + 6) {}
            @for p in places {
                (note(p, line, STEP * (p.position - from) + STEP / 2, last, first == Some(&p.position)))
            }
        }
    }
    .into_string()
}

fn strings(line: &Line, width: usize) -> Markup {
    html! { @for s in 0..usize::from(line.strings) {
        line.string x1="0" x2=(width) y1=(TOP + GAP * s) y2=(TOP + GAP * s) {}
    } }
}

/// The same of a drill that nobody has played: no figures, nothing to press.
fn asked<'a>(line: &Line, from: usize, steps: usize, last: usize, places: impl Iterator<Item = &'a Place>) -> String {
    let (width, height) = (STEP * steps, last + GAP / 2 + FOOT);
    let places: Vec<&Place> = places.collect();
    let words = places.iter().map(|p| p.asked_words()).collect::<Vec<_>>().join(". ");
    let words = if words.is_empty() { format!("Steps {} to {}: no note", from + 1, from + steps) } else { words };
    html! {
        svg width=(width) height=(height) viewBox=(format!("0 0 {width} {height}")) role="img" aria-label=(words) {
            (strings(line, width))
            line.string x1="0.5" x2="0.5" y1=(TOP) y2=(last) {}
            @for p in places {
                @let x = STEP * (p.position - from) + STEP / 2;
                (stroke(p.stroke, x))
                @if let Some(legato) = p.legato { text x=(x) y=(STROKES + 4) { (legato) } }
                @if let Some((_, kind)) = p.change { (change(kind, x)) }
                (fret(line, (p.string, p.fret), p.dead, x))
                @for also in &p.also { (fret(line, *also, p.dead, x)) }
            }
        }
    }
    .into_string()
}

fn fret(line: &Line, (string, fret): (u8, u8), dead: bool, x: usize) -> Markup {
    let y = TOP + GAP * usize::from(string.clamp(1, line.strings.max(1)) - 1);
    let wide = if fret > 9 && !dead { 10 } else { 7 };
    html! {
        rect.ground x=(x - wide) y=(y - 7) width=(2 * wide) height="14" rx="3" {}
        text.fret x=(x) y=(y + 5) { @if dead { "x" } @else { (fret) } }
    }
}

fn note(p: &Place, line: &Line, x: usize, last: usize, first: bool) -> Markup {
    let y = TOP + GAP * usize::from(p.string.clamp(1, line.strings) - 1);
    let mean = p.mean_ms();
    let way = way(mean);
    let words = p.words();
    let wide = if p.fret > 9 { 10 } else { 7 };
    html! {
        g class=(format!("note{}{way}", if way.is_empty() { "" } else { " " })) data-step=(p.position) {
            // The button lies under what it stands for: its name is a sentence, not the figures that are seen.
            g.key role="button" aria-label=(words) tabindex=(if first { "0" } else { "-1" }) {
                title { (words) }
                rect.hit x=(x - STEP / 2) y="0" width=(STEP) height=(last + BARS + FIGURES + FOOT - 1) {}
            }
            (stroke(p.stroke, x))
            @if let Some((_, kind)) = p.change { (change(kind, x)) }
            rect.ground x=(x - wide) y=(y - 7) width=(2 * wide) height="14" rx="3" {}
            rect.tint x=(x - wide) y=(y - 7) width=(2 * wide) height="14" rx="3"
                fill-opacity=(format!("{:.2}", tint(mean, line.reach_ms))) {}
            text.fret aria-hidden="true" x=(x) y=(y + 5) { (p.fret) }
            (slips(p, x, y))
            (bar(mean, line.reach_ms, x, last + BARS))
            text.ms aria-hidden="true" x=(x) y=(last + BARS + FIGURES) { @if let Some(ms) = mean { (figure(ms)) } }
        }
    }
}

/// Over the fret what befell the note every time, beside it what befell it now and then.
fn slips(p: &Place, x: usize, y: usize) -> Markup {
    let (cx, cy, r) = if p.missed == p.times { (x, y, 6) } else { (x + 10, y - 9, 3) };
    let now_and_then = p.wrong < p.times;
    html! {
        @if p.missed > 0 { path.cross d=(format!("M{} {}l{d} {d}m0-{d}l-{d} {d}", cx - r, cy - r, d = 2 * r)) {} }
        @if p.wrong > 0 { circle.ring.some[now_and_then] cx=(x) cy=(y) r="10" {} }
        @if p.extra > 0 { path.plus d=(format!("M{} {y}h8m-4-4v8", x + STEP / 2 - 4)) {} }
    }
}

/// "late", "early", "" within half of what is shown.
fn way(mean: Option<f64>) -> &'static str {
    match mean {
        Some(ms) if ms >= 0.5 => "late",
        Some(ms) if ms <= -0.5 => "early",
        _ => "",
    }
}

/// Whole milliseconds, with a sign.
fn figure(ms: f64) -> String {
    if ms.abs() < 0.5 { "0".to_owned() } else { format!("{ms:+.0}") }
}

/// How strong a note is tinted; no stronger than that the fret stays readable.
fn tint(mean: Option<f64>, reach_ms: f64) -> f64 {
    0.5 * (mean.unwrap_or(0.0).abs() / reach_ms).clamp(0.0, 1.0)
}

/// From the step to where the note came, in parts of half a step.
fn bar(mean: Option<f64>, reach_ms: f64, x: usize, y: usize) -> Markup {
    let Some(ms) = mean else { return html! {} };
    let length = (ms / reach_ms).clamp(-1.0, 1.0) * (STEP as f64 / 2.0 - 1.0);
    let from = x as f64 + length.min(0.0);
    html! {
        line.string x1=(x) x2=(x) y1=(y - 5) y2=(y + 5) {}
        rect.bar x=(format!("{from:.1}")) y=(y - 3) width=(format!("{:.1}", length.abs())) height="6" {}
    }
}

/// The signs of bowing and picking: a frame open below for down, a wedge for up.
fn stroke(stroke: Option<Stroke>, x: usize) -> Markup {
    match stroke {
        Some(Stroke::Down) => {
            html! { path.stroke d=(format!("M{} {}v-9h10v9", x - 5, STROKES + 5)) {} rect.top x=(x - 5) y=(STROKES - 5) width="10" height="3" {} }
        }
        Some(Stroke::Up) => html! { path.stroke d=(format!("M{} {}l4.5 10l4.5 -10", x as f64 - 4.5, STROKES - 5)) {} },
        None => html! {},
    }
}

/// The marks of the time line.
fn change(kind: Option<ChangeKind>, x: usize) -> Markup {
    let y = CHANGES;
    match kind {
        Some(ChangeKind::Outside) => html! { circle.change cx=(x) cy=(y) r="4.5" {} },
        Some(ChangeKind::Inside) => {
            html! { path.change d=(format!("M{x} {}l5.5 5.5l-5.5 5.5l-5.5-5.5z", y as f64 - 5.5)) {} }
        }
        Some(ChangeKind::Sweep) => html! { path.change d=(format!("M{x} {}l5 9h-10z", y - 5)) {} },
        _ => html! { path.change d=(format!("M{} {}h9v9h-9z", x as f64 - 4.5, y as f64 - 4.5)) {} },
    }
}
