//! The line as tablature, as it was played: an engraving of our own in SVG, one picture a beat, so that it breaks where
//! the screen or the paper ends. Strings are lines, the nearest the floor at the top; a note is its fret; strokes stand
//! above in the common signs of bowing and picking; the rest is the marks of the time line.

mod engrave;

use crate::words::{self, count, early_late};
use maud::{Markup, PreEscaped, html};
use std::collections::BTreeMap;
use takegauge_drill::{ChangeKind, Drill, GridNote, Sounding, Stroke};
use takegauge_review::{NoteRow, ScoreReport, Status};

/// More steps than any line that is looked at as one.
const MOST_STEPS: usize = 512;
/// The tablature of a take that stands alone.
const ALONE: &str = "tab-line";

/// What the marks mean.
pub(super) const LEGEND: &str = "Under each note: ms late (+) or early (-); the bar points right for late, left for \
    early. Above: the drill's strokes, and a circle at outside changes, a diamond at inside ones, a triangle at sweeps, a \
    square at others. A cross is a note not heard, a ring one at another pitch, a plus an extra attack; small or broken \
    where that befell some of the times only.";

/// One step of the line over all times that it was played.
#[derive(Debug, Clone, PartialEq)]
struct Place {
    position: usize,
    string: u8,
    fret: u8,
    /// What is struck with it, where the drill itself is drawn: string and fret.
    also: Vec<(u8, u8)>,
    /// An attack without a pitch.
    dead: bool,
    /// How it sounds, where the pick does not strike it.
    legato: Option<&'static str>,
    stroke: Option<Stroke>,
    /// The string left and the kind of change; `None` where the string stays.
    change: Option<(u8, Option<ChangeKind>)>,
    /// Times that its note was reached and is judged.
    times: usize,
    /// Deviations of those that were heard, ms.
    deviations: Vec<f64>,
    missed: usize,
    wrong: usize,
    /// Extra attacks before the next note.
    extra: usize,
}

impl Place {
    fn of(n: &NoteRow) -> Self {
        Self {
            position: n.position,
            string: n.string,
            fret: n.fret,
            also: Vec::new(),
            dead: false,
            legato: None,
            stroke: n.stroke,
            change: None,
            times: 0,
            deviations: Vec::new(),
            missed: 0,
            wrong: 0,
            extra: 0,
        }
    }

    /// As a drill asks for it.
    fn asked(n: &GridNote) -> Self {
        Self {
            position: n.position,
            string: n.string(),
            fret: n.fret(),
            also: n.fingered.iter().skip(1).map(|f| (f.string, f.fret)).collect(),
            dead: n.dead,
            legato: match n.sounding {
                Sounding::Picked => None,
                Sounding::HammerOn => Some("h"),
                Sounding::PullOff => Some("p"),
            },
            stroke: n.stroke,
            change: n.change.filter(|c| !c.after_gap).map(|c| (c.from, c.kind)),
            times: 0,
            deviations: Vec::new(),
            missed: 0,
            wrong: 0,
            extra: 0,
        }
    }

    fn mean_ms(&self) -> Option<f64> {
        let n = self.deviations.len();
        (n > 0).then(|| self.deviations.iter().sum::<f64>() / n as f64)
    }

    /// What is asked for: "Step 7: string 3, fret 7, downstroke, inside change from string 4".
    fn asked_words(&self) -> String {
        let mut text = format!("Step {}: string {}, fret {}", self.position + 1, self.string, self.fret);
        for (string, fret) in &self.also {
            text.push_str(&format!(" with string {string}, fret {fret}"));
        }
        match self.legato {
            Some("h") => text.push_str(", hammered on"),
            Some(_) => text.push_str(", pulled off"),
            None => {}
        }
        match self.stroke {
            Some(Stroke::Down) => text.push_str(", downstroke"),
            Some(Stroke::Up) => text.push_str(", upstroke"),
            None => {}
        }
        if let Some((from, kind)) = self.change {
            let kind = match kind {
                Some(ChangeKind::Outside) => "outside change",
                Some(ChangeKind::Inside) => "inside change",
                Some(ChangeKind::Sweep) => "sweep",
                _ => "change",
            };
            text.push_str(&format!(", {kind} from string {from}"));
        }
        text
    }

    fn words(&self) -> String {
        let mut text = self.asked_words();
        match self.mean_ms() {
            Some(ms) => text.push_str(&format!(": {} on average of {}", early_late(ms), self.deviations.len())),
            None if self.times > 0 => text.push_str(": no time to tell"),
            None => text.push_str(": not reached"),
        }
        for (n, what) in [(self.missed, "not heard"), (self.wrong, "at another pitch")] {
            if n > 0 {
                text.push_str(&format!(", {n} of {} {what}", self.times));
            }
        }
        if self.extra > 0 {
            text.push_str(&format!(", {} after it", count(self.extra, "extra attack", "extra attacks")));
        }
        text + "."
    }
}

/// The line of a report.
struct Line {
    places: BTreeMap<usize, Place>,
    strings: u8,
    /// Steps that there are at least, rests at the end included.
    length: usize,
    /// Steps drawn as one picture.
    group: usize,
    /// A deviation of a whole bar, ms.
    reach_ms: f64,
    /// The drill's strokes are the same at every repeat.
    strokes_stay: bool,
    /// It was played: there is more to tell than what is asked for.
    played: bool,
}

/// Steps drawn as one picture: at least three, so that a line of quarters is not cut at every note.
fn steps_in_a_picture(steps_per_beat: u8) -> usize {
    let beat = usize::from(steps_per_beat.max(1));
    beat * 3_usize.div_ceil(beat)
}

impl Line {
    fn of(r: &ScoreReport) -> Self {
        let mut places = BTreeMap::new();
        let mut strokes_stay = true;
        for n in &r.notes {
            let place = places.entry(n.position).or_insert_with(|| Place::of(n));
            strokes_stay &= place.stroke == n.stroke;
            // The line's first note is a change only from the second time on.
            place.change = place.change.or(n.change.as_ref().map(|c| (c.from, c.kind)));
            if n.status == Status::NotReached {
                continue;
            }
            place.times += 1;
            place.missed += usize::from(n.status == Status::Missed);
            place.wrong += usize::from(n.status == Status::WrongPitch);
            place.deviations.extend(n.deviation_ms);
        }
        let position: BTreeMap<usize, usize> = r.notes.iter().map(|n| (n.index, n.position)).collect();
        for e in r.extra.iter().filter_map(|e| e.after_index) {
            if let Some(place) = position.get(&e).and_then(|p| places.get_mut(p)) {
                place.extra += 1;
            }
        }
        let widest = places.values().filter_map(Place::mean_ms).map(f64::abs).fold(0.0, f64::max);
        let highest = places.values().map(|p| p.string).max().unwrap_or(1);
        Self {
            strings: words::strings(r).max(highest),
            length: 0,
            group: steps_in_a_picture(r.drill.steps_per_beat),
            // No smaller than twice what most listeners hear of one note: a quiet line must not look wild.
            reach_ms: widest.max(12.0),
            strokes_stay,
            played: true,
            places,
        }
    }

    /// What a drill asks for, the first time through.
    fn asked(drill: &Drill) -> Self {
        let mut places: BTreeMap<usize, Place> = BTreeMap::new();
        let grid = drill.grid();
        let again = grid.iter().filter(|n| n.repeat == 1);
        for n in grid.iter().filter(|n| n.repeat == 0) {
            places.insert(n.position, Place::asked(n));
        }
        for n in again {
            // The line's first note is a change only from the second time on.
            if let Some(place) = places.get_mut(&n.position).filter(|p| p.change.is_none()) {
                place.change = Place::asked(n).change;
            }
        }
        Self {
            strings: drill.tuning.strings(),
            length: drill.line.len(),
            group: steps_in_a_picture(drill.steps_per_beat),
            reach_ms: 1.0,
            strokes_stay: true,
            played: false,
            places,
        }
    }

    fn steps(&self) -> usize {
        self.places.keys().next_back().map_or(0, |last| last + 1).max(self.length).min(MOST_STEPS)
    }
}

/// The section; nothing where no note of the line is known.
pub(super) fn section(r: &ScoreReport) -> Markup {
    let line = Line::of(r);
    if line.places.is_empty() {
        return html! {};
    }
    let whole = line.places.keys().next_back().is_some_and(|last| *last >= MOST_STEPS);
    html! {
        h2 { "The line, as played" }
        div.controls role="group" aria-label="Which time" {
            label { "Show" select id="tab-time" { option value="" { "all times, averaged" } } }
        }
        (picture(&line, ALONE, "The line as tablature"))
        p.quiet.more { (LEGEND) " Click a note to see and hear it. " }
        @if whole || !line.strokes_stay { p.quiet {
            @if !line.strokes_stay { "The strokes shown are those of the first time: they swap from one time to the next. " }
            @if whole { "Only the first " (MOST_STEPS) " steps are drawn." }
        } }
    }
}

/// The pictures alone, for a page to print.
pub(super) fn averaged(r: &ScoreReport) -> Markup {
    let line = Line::of(r);
    html! { @if !line.places.is_empty() { (picture(&line, ALONE, "The line as tablature")) } }
}

/// What a drill asks for as tablature: strings, frets, strokes and changes of its first `most` steps.
pub fn drill_line(drill: &Drill, most: usize) -> String {
    let mut line = Line::asked(drill);
    let steps = line.steps();
    line.places.retain(|position, _| *position < most);
    line.length = steps.min(most);
    html! {
        @if !line.places.is_empty() {
            div.tab-line.asked { @for from in (0..line.steps()).step_by(line.group) { (PreEscaped(engrave::group(&line, from))) } }
        }
        @if steps > most { p.quiet { (steps - most) " more steps are not drawn." } }
    }
    .into_string()
}

/// Two takes of one line, both to the same scale; `names` are said of either.
pub(super) fn two(takes: [&ScoreReport; 2], ids: [&str; 2], names: [&str; 2]) -> [Markup; 2] {
    let mut lines = takes.map(Line::of);
    let reach = lines.iter().map(|l| l.reach_ms).fold(0.0, f64::max);
    let strings = lines.iter().map(|l| l.strings).max().unwrap_or(1);
    for line in &mut lines {
        (line.reach_ms, line.strings) = (reach, strings);
    }
    [0, 1].map(|k| picture(&lines[k], ids[k], names[k]))
}

/// The steps that either take has, with what is asked for at each.
pub(super) fn steps_of(takes: [&ScoreReport; 2]) -> Vec<(usize, String)> {
    let mut all = BTreeMap::new();
    for line in takes.map(Line::of) {
        for place in line.places.values().filter(|p| p.position < MOST_STEPS) {
            all.entry(place.position).or_insert_with(|| place.asked_words());
        }
    }
    all.into_iter().collect()
}

fn picture(line: &Line, id: &str, name: &str) -> Markup {
    let groups = (0..line.steps()).step_by(line.group);
    html! {
        div.tab-line id=(id) role="group" aria-label=(name) data-reach=(format!("{:.3}", line.reach_ms)) {
            @for from in groups { (PreEscaped(engrave::group(line, from))) }
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
    fn every_place_is_the_mean_of_its_notes() {
        let r = stored();
        let line = Line::of(&r);
        for (position, place) in &line.places {
            let of: Vec<f64> =
                r.notes.iter().filter(|n| n.position == *position).filter_map(|n| n.deviation_ms).collect();
            assert_eq!(place.deviations, of);
        }
        assert_eq!(line.strings, 6);
        assert!(line.places.values().any(|p| p.change.is_some()));
        let html = section(&r).into_string();
        assert_eq!(html.matches("class=\"note").count(), line.places.len());
        assert!(!html.contains("NaN") && !html.contains("inf"));
    }

    #[test]
    fn slips_and_strings_are_told_in_words() {
        let mut r = stored();
        let at = r.notes[0].position;
        for n in r.notes.iter_mut().filter(|n| n.position == at) {
            (n.status, n.deviation_ms, n.played_s) = (Status::Missed, None, None);
        }
        let line = Line::of(&r);
        let place = &line.places[&at];
        assert_eq!((place.missed, place.mean_ms()), (place.times, None));
        assert!(place.words().contains(&format!("{} of {} not heard", place.times, place.times)), "{}", place.words());
        assert!(section(&r).into_string().contains("class=\"cross\""));
    }

    #[test]
    fn a_drill_is_drawn_as_it_is_written_rests_chords_and_marks_included() {
        let text = "name = 'x'\ntempo_bpm = 100\nsteps_per_beat = 4\nrepeats = 2\ntuning = 'standard'\n\
                    picking = 'alternate'\nline = '6:3 6:5h [5:7 4:8] 3:0x - - - -'\n";
        let drill = Drill::parse(text, "t").unwrap();
        let svg = drill_line(&drill, 64);
        assert!(svg.contains("Step 2: string 6, fret 5, hammered on"), "{svg}");
        assert!(svg.contains("Step 3: string 5, fret 7 with string 4, fret 8"), "{svg}");
        assert!(svg.contains(">x</text>") && svg.contains(">h</text>"), "{svg}");
        // Eight steps, the last four silent, and nothing to press.
        assert!(svg.contains("Steps 5 to 8: no note") && !svg.contains("role=\"button\""), "{svg}");
        let cut = drill_line(&drill, 4);
        assert!(cut.contains("4 more steps are not drawn") && cut.matches("<svg").count() == 1, "{cut}");
    }

    #[test]
    fn nothing_reached_is_drawn_without_figures() {
        let mut r = stored();
        r.extra.clear();
        for n in &mut r.notes {
            (n.status, n.deviation_ms, n.played_s) = (Status::NotReached, None, None);
        }
        let html = section(&r).into_string();
        assert!(html.contains("not reached") && !html.contains("class=\"bar"));
        r.notes.clear();
        assert_eq!(section(&r).into_string(), "");
    }
}
