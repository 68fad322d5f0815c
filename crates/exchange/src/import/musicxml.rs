//! MusicXML 3.1 and 4.0 (score-partwise): one voice of one part becomes the line.

use super::imported::{Imported, MAX_IMPORTED, Options, checked, lose, tidy_name};
use super::musicxml_notes::{Head, Measure, QUARTER, State};
use super::quantise::{Timed, Wish, to_line};
use super::xml::{self, Element};
use super::{fingering, strokes};
use std::collections::BTreeMap;
use takegauge_drill::{
    AfterGap, Drill, DrillError, Fingered, LineNote, MAX_FRET, Picking, Place, Stroke, Tuning, Worded,
};
use takegauge_units::{Bpm, Hertz, MidiKey};

/// The most measures that are played, repeats inside the line written out.
const MAX_MEASURES: usize = 4_000;

pub(super) fn read(text: &str, file: &str, options: &Options) -> Result<Imported, DrillError> {
    let document = xml::parse(text, file)?;
    let root = Element::root(&document);
    let mut losses = Vec::new();
    if root.name() != "score-partwise" {
        let message = format!("read <{}>; only <score-partwise> is brought in: export it so", root.name());
        return Err(DrillError::Syntax { place: Place::of(file, text, root.offset()), message });
    }
    let part = choose_part(root, text, file, options, &mut losses)?;
    let mut state = State::default();
    let (first, last) = options.bars.unwrap_or((1, usize::MAX));
    let mut measures = Vec::new();
    for (i, element) in part.all("measure").take(MAX_MEASURES).enumerate() {
        let wanted = (first..=last).contains(&(i + 1));
        let measure = state.measure(element, wanted, &mut losses);
        if wanted {
            measures.push(measure);
        }
    }
    choose_voice(&mut measures, options, &mut losses);
    let fields: BTreeMap<&str, &str> = root
        .find("miscellaneous")
        .map(|m| m.all("miscellaneous-field").filter_map(|f| Some((f.attribute("name")?, f.text()))).collect())
        .unwrap_or_default();
    let title = root.find("work-title").or_else(|| root.child("movement-title"));
    let name = tidy_name(title.map_or("", Element::text), file);
    let drill = Builder { file, fields, state, options }.drill(name, &measures, &mut losses)?;
    Ok(Imported { drill, losses })
}

fn choose_part<'a>(
    root: Element<'a>,
    text: &str,
    file: &str,
    options: &Options,
    losses: &mut Vec<String>,
) -> Result<Element<'a>, DrillError> {
    let parts: Vec<Element<'a>> = root.all("part").collect();
    let has_notes = |p: &Element<'_>| p.all("measure").any(|m| m.all("note").any(|n| n.child("rest").is_none()));
    let chosen = match options.part {
        Some(n) => parts.get(n - 1).copied(),
        None => parts.iter().copied().find(has_notes),
    };
    if parts.len() > 1 {
        lose(losses, format!("One of {} parts is brought in.", parts.len()));
    }
    chosen.ok_or_else(|| DrillError::NotAllowed {
        place: Place::of(file, text, root.offset()),
        read: format!("{} parts, part {} asked for", parts.len(), options.part.unwrap_or(1)),
        allowed: format!("a part from 1 to {} that has notes", parts.len()),
    })
}

/// Keeps one voice: the one asked for, else the one with most strings written, else with most notes.
fn choose_voice(measures: &mut [Measure], options: &Options, losses: &mut Vec<String>) {
    let mut voices: BTreeMap<String, (usize, usize)> = BTreeMap::new();
    for head in measures.iter().flat_map(|m| &m.heads) {
        let count = voices.entry(head.voice.clone()).or_default();
        count.0 += usize::from(head.string.is_some());
        count.1 += 1;
    }
    let most =
        voices.iter().max_by_key(|(name, count)| (**count, std::cmp::Reverse(*name))).map(|(name, _)| name.clone());
    let Some(chosen) = options.voice.clone().or(most) else { return };
    if voices.len() > 1 {
        let others: Vec<_> = voices.keys().filter(|v| **v != chosen).cloned().collect();
        lose(losses, format!("Voice {chosen} is brought in; not carried: voice {}.", others.join(", ")));
    }
    for measure in measures {
        measure.heads.retain(|h| h.voice == chosen);
    }
}

struct Builder<'a> {
    file: &'a str,
    fields: BTreeMap<&'a str, &'a str>,
    state: State,
    options: &'a Options,
}

impl Builder<'_> {
    fn drill(&self, name: String, measures: &[Measure], losses: &mut Vec<String>) -> Result<Drill, DrillError> {
        let (beats_per_bar, unit) = self.state.meter.unwrap_or((4, 4));
        let (played, repeats) = played_order(measures, losses);
        let to_beats = |q: u64| (q * u64::from(unit) + 8) / 16;
        let mut heads: Vec<Head> = Vec::new();
        let mut bar_starts = Vec::new();
        let mut now = 0u64;
        for measure in played.iter().filter_map(|i| measures.get(*i)) {
            bar_starts.push(to_beats(now));
            for head in &measure.heads {
                let moved = Head { start: head.start + now, end: head.end + now, ..head.clone() };
                join(&mut heads, moved);
            }
            now += measure.length;
            if heads.len() > MAX_IMPORTED {
                return Err(DrillError::TooManyNotes {
                    file: self.file.to_owned(),
                    notes: heads.len(),
                    limit: MAX_IMPORTED,
                });
            }
        }
        for head in &mut heads {
            (head.start, head.end) = (to_beats(head.start), to_beats(head.end));
        }
        heads.sort_by_key(|h| h.start);
        let tuning = self.tuning(losses);
        let notes = self.notes(&heads, &tuning, losses);
        let bar = takegauge_drill::timing::TICKS * u64::from(beats_per_bar);
        let first_length = played.first().and_then(|i| measures.get(*i)).map_or(0, |m| to_beats(m.length));
        let short = played.len() > 1 && first_length < bar;
        let pickup = if short && measures.first().is_some_and(|m| m.implicit) { first_length } else { 0 };
        let marks: Vec<u64> = bar_starts.iter().copied().chain([pickup]).collect();
        let grid = to_line(&notes, to_beats(now), pickup, self.wish().as_ref(), &marks);
        if grid.moved.0 > 0 {
            lose(losses, format!("{} notes between the steps were moved to the nearest step.", grid.moved.0));
        }
        if grid.dropped > 0 {
            lose(losses, format!("{} notes fell on a step that was taken and are not carried.", grid.dropped));
        }
        let field = |name: &str| self.fields.get(name).copied();
        let number = |name: &str| field(name).and_then(|v| v.parse::<f64>().ok());
        let choice = |name: &str| field(name).and_then(Picking::of_word);
        let stroke = field("first_stroke").and_then(Stroke::of_word);
        let after_gap = field("after_gap").and_then(AfterGap::of_word);
        let swing = number("swing").or(self.state.swing).filter(|s| (20.0..=80.0).contains(s));
        let mut drill = Drill {
            name,
            tempo: self.tempo(number("tempo_bpm"), losses),
            steps_per_beat: grid.steps_per_beat,
            beats_per_bar,
            beat_unit: unit,
            pickup_steps: grid.marks.last().copied().and_then(|m| u16::try_from(m).ok()).unwrap_or(0),
            repeats,
            tuning,
            picking: choice("picking").unwrap_or(Picking::Alternate),
            first_stroke: stroke.unwrap_or(Stroke::Down),
            after_gap: after_gap.unwrap_or(AfterGap::Next),
            swing: swing.filter(|_| grid.steps_per_beat.is_multiple_of(2)).unwrap_or(50.0),
            a4: Hertz(number("a4_hz").filter(|a| (380.0..=500.0).contains(a)).unwrap_or(440.0)),
            capo: self.state.capo,
            note: field("note").unwrap_or("").to_owned(),
            bars: grid.marks.iter().take(bar_starts.len()).copied().filter(|m| *m > 0).collect(),
            line: grid.steps,
            divisions: grid.divisions,
        };
        drill.bars.dedup();
        strokes::settle(&mut drill, choice("picking").is_some(), losses);
        checked(drill, self.file)
    }

    fn wish(&self) -> Option<Wish> {
        let steps_per_beat = self.fields.get("steps_per_beat")?.parse().ok().filter(|n| (1..=12).contains(n))?;
        let pairs = self.fields.get("subdivisions").copied().unwrap_or("").split_whitespace();
        let divisions =
            pairs.filter_map(|p| p.split_once('/')).filter_map(|(p, n)| Some((p.parse().ok()?, n.parse().ok()?)));
        let mut divisions: Vec<(usize, u8)> = divisions.filter(|d| (1..=12).contains(&d.1)).take(5000).collect();
        divisions.sort_unstable();
        divisions.dedup_by_key(|d| d.0);
        Some(Wish { steps_per_beat, divisions })
    }

    fn tempo(&self, field: Option<f64>, losses: &mut Vec<String>) -> Bpm {
        let read = field.or(self.state.tempo).filter(|t| (20.0..=400.0).contains(t)).map(Bpm);
        read.or(self.options.tempo).unwrap_or_else(|| {
            lose(losses, "No tempo from 20 to 400 is written: 120 is taken for granted.");
            Bpm(120.0)
        })
    }

    fn tuning(&self, losses: &mut Vec<String>) -> Tuning {
        let mut lines = self.state.tuning.clone();
        lines.sort_unstable();
        let whole = lines.iter().enumerate().all(|(i, l)| l.0 == i + 1);
        if whole && (4..=9).contains(&lines.len()) {
            return Tuning { open: lines.iter().map(|l| MidiKey(l.1)).collect() };
        }
        self.options.tuning.clone().unwrap_or_else(|| {
            lose(losses, "No tuning is written: E2 A2 D3 G3 B3 E4 is taken for granted.");
            Tuning::standard()
        })
    }

    fn notes(&self, heads: &[Head], tuning: &Tuning, losses: &mut Vec<String>) -> Vec<Timed> {
        let groups: Vec<&[Head]> = heads.chunk_by(|a, b| a.start == b.start).collect();
        let open: Vec<MidiKey> =
            tuning.open.iter().map(|k| MidiKey(k.0.saturating_add(self.state.capo).min(127))).collect();
        let keys: Vec<Vec<MidiKey>> = groups
            .iter()
            .map(|g| {
                if g.iter().all(|h| h.place().is_some()) {
                    Vec::new()
                } else {
                    g.iter().filter_map(|h| h.key.map(MidiKey)).collect()
                }
            })
            .collect();
        if keys.iter().any(|k| !k.is_empty()) {
            lose(
                losses,
                "Strings are not written on every note: they were chosen so that the hand moves least; check them.",
            );
        }
        let proposed = fingering::assign(&keys, &open);
        let mut notes = Vec::new();
        for (group, proposal) in groups.iter().zip(proposed) {
            let written: Option<Vec<Fingered>> = group.iter().map(Head::place).collect();
            let valid = |f: &Fingered| f.fret <= MAX_FRET && (1..=tuning.strings()).contains(&f.string);
            let mut fingered = written.filter(|w| w.iter().all(valid)).or(proposal).unwrap_or_default();
            let mut seen = Vec::new();
            fingered.retain(|f| {
                !seen.contains(&f.string) && {
                    seen.push(f.string);
                    true
                }
            });
            let Some(lead) = group.first().filter(|_| !fingered.is_empty()) else {
                lose(losses, "Notes without a pitch, or beyond the instrument, are not carried.");
                continue;
            };
            if fingered.len() < group.len() {
                lose(losses, "Notes of a chord that cannot be had at once are not carried.");
            }
            let sounds =
                |f: &Fingered| open.get(open.len() - usize::from(f.string)).map(|o| o.0.saturating_add(f.fret));
            if group.iter().zip(&fingered).any(|(h, f)| h.place() == Some(*f) && h.key.is_some() && sounds(f) != h.key)
            {
                lose(losses, "Some pitches differ from their string and fret: string and fret are kept.");
            }
            let any = |what: fn(&Head) -> bool| group.iter().any(what);
            let stroke =
                group.iter().find_map(|h| h.stroke).filter(|_| lead.sounding == takegauge_drill::Sounding::Picked);
            let note = LineNote {
                fingered,
                sounding: lead.sounding,
                written_stroke: stroke,
                accent: any(|h| h.accent),
                dead: any(|h| h.dead) && lead.sounding == takegauge_drill::Sounding::Picked,
                palm_muted: any(|h| h.palm_muted),
                way_back: any(|h| h.way_back),
            };
            let end = group.iter().map(|h| h.end).max().unwrap_or(lead.end);
            notes.push(Timed { start: lead.start, end, note });
        }
        notes
    }
}

/// Adds a note, or lengthens the one that it is tied to.
fn join(heads: &mut Vec<Head>, head: Head) {
    if head.tied_to_before {
        let same = |h: &&mut Head| {
            h.end == head.start && h.key == head.key && (h.string == head.string || head.string.is_none())
        };
        if let Some(before) = heads.iter_mut().rev().take(64).find(same) {
            before.end = head.end;
            return;
        }
    }
    heads.push(head);
}

/// Measures in the order in which they are played once, and how often that is played.
fn played_order(measures: &[Measure], losses: &mut Vec<String>) -> (Vec<usize>, u32) {
    let last = measures.len().saturating_sub(1);
    let inner = |i: usize, m: &Measure| {
        (m.repeat_from && i > 0) || (m.repeat_to.is_some() && i < last) || !m.endings.is_empty()
    };
    if !measures.iter().enumerate().any(|(i, m)| inner(i, m)) {
        let repeats = measures.last().and_then(|m| m.repeat_to).unwrap_or(1);
        return ((0..measures.len()).collect(), repeats);
    }
    lose(losses, "Repeats inside the line are written out.");
    let mut order = Vec::new();
    // Where the repeat goes back to, and which time through it is.
    let (mut from, mut pass, mut i) = (0, 1, 0);
    while let Some(measure) = measures.get(i) {
        let after_endings = measure.endings.is_empty() && i > 0 && !measures[i - 1].endings.is_empty();
        if (measure.repeat_from || after_endings) && from != i {
            (from, pass) = (i, 1);
        }
        if order.len() >= MAX_MEASURES {
            lose(losses, format!("More than {MAX_MEASURES} measures are played: the rest is not carried."));
            break;
        }
        let sounds = measure.endings.is_empty() || measure.endings.contains(&pass);
        if sounds {
            order.push(i);
        }
        match measure.repeat_to.filter(|_| sounds) {
            Some(times) if pass < times.max(last_ending(measures, i)) => {
                pass += 1;
                i = from;
                continue;
            }
            Some(_) if measure.endings.is_empty() => (from, pass) = (i + 1, 1),
            _ => {}
        }
        i += 1;
    }
    (order, 1)
}

/// The highest number of the endings that stand side by side with measure `i`; 0 where it is in none.
fn last_ending(measures: &[Measure], i: usize) -> u32 {
    let before = measures[..i].iter().rev().take_while(|m| !m.endings.is_empty());
    let from = measures[i..].iter().take_while(|m| !m.endings.is_empty());
    if measures[i].endings.is_empty() {
        0
    } else {
        before.chain(from).flat_map(|m| &m.endings).copied().max().unwrap_or(0).min(1000)
    }
}

const _: () = assert!(QUARTER == takegauge_drill::timing::TICKS * 4, "to_beats divides by 16");
