//! The notes of a MusicXML part, measure by measure, with times in [`QUARTER`] ticks a quarter note.

use super::imported::{MAX_IMPORTED, lose};
use super::xml::Element;
use takegauge_drill::timing::TICKS;
use takegauge_drill::{Fingered, Sounding, Stroke};

/// Ticks a quarter note: four times a beat's, so that beats of sixteenths stay whole.
pub(super) const QUARTER: u64 = TICKS * 4;
/// The longest measure, in quarter notes.
const LONGEST: f64 = 512.0;

/// One note head.
#[derive(Debug, Clone)]
pub(super) struct Head {
    pub(super) start: u64,
    pub(super) end: u64,
    pub(super) voice: String,
    /// Sounding MIDI key; `None` for unpitched notes.
    pub(super) key: Option<u8>,
    pub(super) string: Option<u8>,
    pub(super) fret: Option<u8>,
    pub(super) stroke: Option<Stroke>,
    pub(super) sounding: Sounding,
    pub(super) accent: bool,
    pub(super) dead: bool,
    pub(super) palm_muted: bool,
    pub(super) way_back: bool,
    pub(super) tied_to_before: bool,
}

impl Head {
    pub(super) fn place(&self) -> Option<Fingered> {
        Some(Fingered { string: self.string?, fret: self.fret? })
    }
}

/// One measure: its notes from its own start, its length, its repeat signs.
#[derive(Debug, Clone, Default)]
pub(super) struct Measure {
    pub(super) heads: Vec<Head>,
    pub(super) length: u64,
    pub(super) implicit: bool,
    pub(super) repeat_from: bool,
    /// Plays back to the last forward sign, so many times in all.
    pub(super) repeat_to: Option<u32>,
    /// First and second endings: the times through in which it is played, from 1; empty for every time.
    pub(super) endings: Vec<u32>,
}

/// What holds from measure to measure and for the whole part.
#[derive(Debug, Clone)]
pub(super) struct State {
    divisions: f64,
    transpose: i32,
    /// Beats a bar and their value.
    pub(super) meter: Option<(u8, u8)>,
    pub(super) tempo: Option<f64>,
    pub(super) swing: Option<f64>,
    /// Open strings by staff line, low string first.
    pub(super) tuning: Vec<(usize, u8)>,
    pub(super) capo: u8,
    /// The ending that is open, and whether its end was read.
    endings: (Vec<u32>, bool),
    notes: usize,
}

impl Default for State {
    fn default() -> Self {
        Self {
            divisions: 1.0,
            transpose: 0,
            meter: None,
            tempo: None,
            swing: None,
            tuning: Vec::new(),
            capo: 0,
            endings: (Vec::new(), false),
            notes: 0,
        }
    }
}

impl State {
    /// Reads a measure; `wanted` says whether its notes are to be brought in.
    pub(super) fn measure(&mut self, element: Element<'_>, wanted: bool, losses: &mut Vec<String>) -> Measure {
        let mut measure = Measure { implicit: element.attribute("implicit") == Some("yes"), ..Measure::default() };
        let (mut now, mut last_start) = (0u64, 0u64);
        for part in element.children() {
            match part.name() {
                "attributes" => self.attributes(part, losses),
                "direction" | "sound" => self.direction(part, wanted, losses),
                "backup" => now = now.saturating_sub(self.duration(part)),
                "forward" => now = now.saturating_add(self.duration(part)),
                "barline" => self.barline(part, &mut measure),
                "note" => {
                    if part.child("grace").is_some() || part.child("cue").is_some() {
                        lose(losses, "Grace and cue notes are not carried.");
                        continue;
                    }
                    let length = self.duration(part);
                    let start = if part.child("chord").is_some() { last_start } else { now };
                    last_start = start;
                    now = now.max(start.saturating_add(length));
                    if wanted && part.child("rest").is_none() && self.notes < MAX_IMPORTED {
                        self.notes += 1;
                        measure.heads.push(self.head(part, start, start + length, losses));
                    }
                }
                "harmony" | "figured-bass" => lose(losses, "Chord symbols are not carried."),
                _ => {}
            }
            now = now.min(QUARTER * LONGEST as u64);
            measure.length = measure.length.max(now);
        }
        measure.endings.clone_from(&self.endings.0);
        if std::mem::take(&mut self.endings.1) {
            self.endings.0.clear();
        }
        measure
    }

    fn barline(&mut self, element: Element<'_>, measure: &mut Measure) {
        for ending in element.all("ending") {
            if ending.attribute("type") == Some("start") {
                let numbers = ending.attribute("number").unwrap_or("").split([',', ' ']);
                self.endings = (numbers.filter_map(|n| n.parse().ok()).filter(|n| *n > 0).take(64).collect(), false);
            } else {
                self.endings.1 = true;
            }
        }
        let Some(repeat) = element.child("repeat") else { return };
        match repeat.attribute("direction") {
            Some("forward") => measure.repeat_from = true,
            Some("backward") => {
                let times = repeat.attribute("times").and_then(|t| t.parse().ok()).unwrap_or(2);
                measure.repeat_to = Some(times.clamp(1, 1000));
            }
            _ => {}
        }
    }

    fn duration(&self, element: Element<'_>) -> u64 {
        let quarters = element.number_of::<f64>("duration").unwrap_or(0.0) / self.divisions;
        if quarters.is_finite() { (quarters.clamp(0.0, LONGEST) * QUARTER as f64).round() as u64 } else { 0 }
    }

    fn attributes(&mut self, element: Element<'_>, losses: &mut Vec<String>) {
        if let Some(d) = element.number_of::<f64>("divisions").filter(|d| (1e-3..1e7).contains(d)) {
            self.divisions = d;
        }
        if let Some(transpose) = element.child("transpose") {
            let number = |name| transpose.number_of::<i32>(name).unwrap_or(0).clamp(-60, 60);
            self.transpose = number("chromatic") + 12 * number("octave-change");
        }
        if let Some(time) = element.child("time") {
            let beats = time
                .text_of("beats")
                .map_or(0, |b| b.split('+').filter_map(|p| p.trim().parse::<u32>().ok()).fold(0, u32::saturating_add));
            let unit = time.number_of::<u8>("beat-type").unwrap_or(4);
            match u8::try_from(beats) {
                Ok(beats) if (1..=32).contains(&beats) && [1, 2, 4, 8, 16].contains(&unit) => {
                    if self.meter.is_some_and(|m| m != (beats, unit)) {
                        lose(losses, "Changes of meter are not carried: the first one holds.");
                    }
                    self.meter.get_or_insert((beats, unit));
                }
                _ => lose(losses, "A meter that cannot be read is taken as four quarter notes."),
            }
        }
        for details in element.all("staff-details") {
            if let Some(capo) = details.number_of::<u8>("capo").filter(|c| *c <= 12) {
                self.capo = capo;
            }
            for tuning in details.all("staff-tuning").take(12) {
                let line =
                    tuning.attribute("line").and_then(|l| l.parse::<usize>().ok()).filter(|l| (1..=9).contains(l));
                let alter = tuning.number_of::<f64>("tuning-alter").unwrap_or(0.0);
                let key = key_of(tuning.text_of("tuning-step"), alter, tuning.number_of("tuning-octave"));
                if let (Some(line), Some(key)) = (line, key) {
                    self.tuning.retain(|t| t.0 != line);
                    self.tuning.push((line, key));
                }
            }
        }
    }

    fn direction(&mut self, element: Element<'_>, wanted: bool, losses: &mut Vec<String>) {
        let sound = if element.name() == "sound" { Some(element) } else { element.child("sound") };
        let given = sound.and_then(|s| s.attribute("tempo")).and_then(|t| t.trim().parse::<f64>().ok());
        let marked = || {
            let metronome = element.find("metronome")?;
            let value = match metronome.text_of("beat-unit")? {
                "whole" => 4.0,
                "half" => 2.0,
                "quarter" => 1.0,
                "eighth" => 0.5,
                "16th" => 0.25,
                _ => return None,
            };
            let dotted = if metronome.child("beat-unit-dot").is_some() { 1.5 } else { 1.0 };
            Some(metronome.number_of::<f64>("per-minute")? * value * dotted)
        };
        if let Some(tempo) = given.or_else(marked).filter(|t| t.is_finite() && *t > 0.0) {
            if wanted && self.tempo.is_some_and(|t| (t - tempo).abs() > 1e-6) {
                lose(losses, "Changes of tempo are not carried: the first one holds.");
            }
            self.tempo.get_or_insert(tempo);
        }
        if let Some(swing) = sound.and_then(|s| s.child("swing")) {
            let (a, b) = (swing.number_of::<f64>("first"), swing.number_of::<f64>("second"));
            if let (Some(a), Some(b)) = (a, b)
                && a > 0.0
                && b > 0.0
            {
                self.swing = Some(100.0 * a / (a + b));
            }
        }
    }

    fn head(&self, note: Element<'_>, start: u64, end: u64, losses: &mut Vec<String>) -> Head {
        let pitch = note.child("pitch");
        let alter = pitch.and_then(|p| p.number_of::<f64>("alter")).unwrap_or(0.0);
        let key = pitch.and_then(|p| key_of(p.text_of("step"), alter, p.number_of("octave")));
        let key = key.and_then(|k| u8::try_from(i32::from(k) + self.transpose).ok()).filter(|k| *k <= 127);
        let mut head = Head {
            start,
            end,
            voice: note.text_of("voice").unwrap_or("1").to_owned(),
            key,
            string: None,
            fret: None,
            stroke: None,
            sounding: Sounding::Picked,
            accent: false,
            dead: note.text_of("notehead").is_some_and(|h| h == "x"),
            palm_muted: note.child("play").is_some_and(|p| p.text_of("mute") == Some("palm")),
            way_back: false,
            tied_to_before: note.all("tie").any(|t| t.attribute("type") == Some("stop")),
        };
        for notations in note.all("notations") {
            for technical in notations.all("technical").flat_map(Element::children) {
                let stop = technical.attribute("type") == Some("stop");
                match technical.name() {
                    "string" => head.string = technical.text().parse().ok(),
                    "fret" => head.fret = technical.text().parse().ok(),
                    "down-bow" => head.stroke = Some(Stroke::Down),
                    "up-bow" => head.stroke = Some(Stroke::Up),
                    "hammer-on" if stop => head.sounding = Sounding::HammerOn,
                    "pull-off" if stop => head.sounding = Sounding::PullOff,
                    "bend" => lose(losses, "Bends are not carried."),
                    "harmonic" => lose(losses, "Harmonics become plain notes."),
                    "tap" => lose(losses, "Taps become picked notes."),
                    _ => {}
                }
            }
            let articulations = notations.child("articulations");
            head.accent |=
                articulations.is_some_and(|a| a.child("accent").is_some() || a.child("strong-accent").is_some());
            head.way_back |= notations.text_of("other-notation") == Some("way back");
            for lost in ["slur", "slide", "glissando", "ornaments", "arpeggiate", "fermata"] {
                if notations.child(lost).is_some() {
                    lose(losses, format!("Signs of the kind \"{lost}\" are not carried."));
                }
            }
        }
        head
    }
}

/// The MIDI key of a step letter, semitones up and an octave.
fn key_of(step: Option<&str>, alter: f64, octave: Option<i32>) -> Option<u8> {
    let semitone = match step? {
        "C" => 0,
        "D" => 2,
        "E" => 4,
        "F" => 5,
        "G" => 7,
        "A" => 9,
        "B" => 11,
        _ => return None,
    };
    let alter = if alter.is_finite() { alter.round().clamp(-4.0, 4.0) as i32 } else { 0 };
    let key = octave?.clamp(-2, 10) * 12 + 12 + semitone + alter;
    u8::try_from(key).ok().filter(|k| *k <= 127)
}
