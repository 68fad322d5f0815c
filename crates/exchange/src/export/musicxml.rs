//! MusicXML 4.0 (W3C Music Notation Community Group, Final Report 1 June 2021): one part on a tablature staff, pitches
//! as they sound, strokes as down-bow and up-bow (which the standard also uses for plectrum strokes).
//!
//! What the standard has no place for goes into `miscellaneous-field`s named after the drill file's keys.

use super::exported::{Exported, stroke_losses};
use super::pieces::{Bar, Piece, bars};
use quick_xml::escape::escape;
use std::fmt::Write as _;
use takegauge_drill::timing::TICKS;
use takegauge_drill::{Drill, Fingered, GridNote, LineNote, Sounding, Step, Stroke, Worded};

pub(super) fn write(drill: &Drill) -> Exported {
    let grid = drill.repeated(2).grid();
    let notes = drill.notes_in_line();
    let mut losses = Vec::new();
    stroke_losses(drill, &mut losses);
    if drill.repeats > 1 && grid.iter().zip(grid.iter().skip(notes)).any(|(a, b)| a.stroke != b.stroke) {
        losses.push(
            "The strokes written are the first time through; in every second repeat they are the other way round."
                .to_owned(),
        );
    }
    if drill.a4.0 != 440.0 {
        losses.push(format!("A4 = {} Hz has no place in MusicXML; it is kept in a field of its own.", drill.a4.0));
    }
    let bars = bars(drill);
    let quarter = TICKS * u64::from(drill.beat_unit.max(1)) / 4;
    let lengths = bars.iter().flat_map(|b| b.pieces.iter().map(|p| p.ticks));
    let unit = lengths.fold(quarter, takegauge_drill::timing::greatest_common_divisor).max(1);
    let writer = Writer { drill, grid: &grid[..notes.min(grid.len())], unit, divisions: quarter / unit };
    let mut x = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<score-partwise version=\"4.0\">\n");
    writer.head(&mut x);
    x.push_str("  <part id=\"P1\">\n");
    for (i, bar) in bars.iter().enumerate() {
        writer.measure(&mut x, bar, i, bars.len());
    }
    x.push_str("  </part>\n</score-partwise>\n");
    Exported { bytes: x.into_bytes(), losses }
}

struct Writer<'a> {
    drill: &'a Drill,
    /// The first time through.
    grid: &'a [GridNote],
    /// Ticks of one MusicXML division.
    unit: u64,
    /// Divisions of a quarter note.
    divisions: u64,
}

impl Writer<'_> {
    fn head(&self, x: &mut String) {
        let d = self.drill;
        let _ = writeln!(x, "  <work><work-title>{}</work-title></work>", escape(xml_text(&d.name)));
        x.push_str(
            "  <identification>\n    <encoding><software>Takegauge</software></encoding>\n    <miscellaneous>\n",
        );
        let mut field = |name: &str, value: String| {
            let _ = writeln!(x, "      <miscellaneous-field name=\"{name}\">{value}</miscellaneous-field>");
        };
        field("steps_per_beat", d.steps_per_beat.to_string());
        field("picking", d.picking.word().to_owned());
        field("first_stroke", d.first_stroke.word().to_owned());
        field("after_gap", d.after_gap.word().to_owned());
        field("tempo_bpm", d.tempo.0.to_string());
        field("swing", d.swing.to_string());
        field("a4_hz", d.a4.0.to_string());
        if !d.divisions.is_empty() {
            let all: Vec<_> = d.divisions.iter().map(|(p, n)| format!("{p}/{n}")).collect();
            field("subdivisions", all.join(" "));
        }
        if !d.note.is_empty() {
            field("note", escape(xml_text(&d.note)).into_owned());
        }
        x.push_str("    </miscellaneous>\n  </identification>\n");
        x.push_str("  <part-list><score-part id=\"P1\"><part-name>Guitar</part-name></score-part></part-list>\n");
    }

    fn measure(&self, x: &mut String, bar: &Bar, i: usize, of: usize) {
        let full = TICKS * u64::from(self.drill.beats_per_bar.max(1));
        let pickup = self.drill.pickup_steps > 0;
        let number = if pickup { i } else { i + 1 };
        let implicit = if i == 0 && pickup || bar.end - bar.start < full { " implicit=\"yes\"" } else { "" };
        let _ = writeln!(x, "    <measure number=\"{number}\"{implicit}>");
        let repeated = self.drill.repeats > 1;
        if i == 0 {
            self.attributes(x);
            if repeated {
                x.push_str("      <barline location=\"left\"><repeat direction=\"forward\"/></barline>\n");
            }
            self.tempo(x);
        }
        for (piece, bracket) in bar.pieces.iter().zip(brackets(bar)) {
            self.piece(x, piece, bracket);
        }
        if repeated && i + 1 == of {
            let times = self.drill.repeats;
            let _ = writeln!(
                x,
                "      <barline location=\"right\"><repeat direction=\"backward\" times=\"{times}\"/></barline>"
            );
        }
        x.push_str("    </measure>\n");
    }

    fn attributes(&self, x: &mut String) {
        let d = self.drill;
        let _ = write!(
            x,
            "      <attributes>\n        <divisions>{}</divisions>\n        <time><beats>{}</beats><beat-type>{}</beat-type></time>\n        \
             <clef><sign>TAB</sign><line>{}</line></clef>\n        <staff-details>\n          <staff-lines>{}</staff-lines>\n",
            self.divisions,
            d.beats_per_bar,
            d.beat_unit,
            d.tuning.strings().min(9) / 2 + 2,
            d.tuning.strings(),
        );
        for (line, key) in d.tuning.open.iter().enumerate() {
            let (step, alter, octave) = spelled(key.0);
            let alter = if alter { "<tuning-alter>1</tuning-alter>" } else { "" };
            let _ = writeln!(
                x,
                "          <staff-tuning line=\"{}\"><tuning-step>{step}</tuning-step>{alter}<tuning-octave>{octave}\
                 </tuning-octave></staff-tuning>",
                line + 1
            );
        }
        if d.capo > 0 {
            let _ = writeln!(x, "          <capo>{}</capo>", d.capo);
        }
        x.push_str("        </staff-details>\n      </attributes>\n");
    }

    fn tempo(&self, x: &mut String) {
        let d = self.drill;
        let swing = if d.swing == 50.0 || !matches!(d.steps_per_beat, 2 | 4) {
            String::new()
        } else {
            let first = (d.swing * 10.0).round() as u32;
            let kind = if d.steps_per_beat == 2 { "eighth" } else { "16th" };
            format!(
                "<swing><first>{first}</first><second>{}</second><swing-type>{kind}</swing-type></swing>",
                1000 - first
            )
        };
        let _ = writeln!(
            x,
            "      <direction placement=\"above\"><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>{0}\
             </per-minute></metronome></direction-type><sound tempo=\"{0}\">{swing}</sound></direction>",
            d.tempo.0
        );
    }

    fn piece(&self, x: &mut String, piece: &Piece, bracket: &str) {
        let Some((position, note)) = piece.note.and_then(|p| match self.drill.line.get(p) {
            Some(Step::Note(note)) => Some((p, note)),
            _ => None,
        }) else {
            let _ = write!(x, "      <note><rest/><duration>{}</duration><voice>1</voice>", piece.ticks / self.unit);
            value(x, piece);
            if !bracket.is_empty() {
                let _ = write!(x, "<notations>{bracket}</notations>");
            }
            x.push_str("</note>\n");
            return;
        };
        for (i, place) in note.fingered.iter().enumerate() {
            x.push_str("      <note>");
            if i > 0 {
                x.push_str("<chord/>");
            }
            let (step, alter, octave) = spelled(self.drill.key_at(place.string, place.fret).map_or(0, |k| k.0));
            let alter = if alter { "<alter>1</alter>" } else { "" };
            let _ = write!(x, "<pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch>");
            let _ = write!(x, "<duration>{}</duration>", piece.ticks / self.unit);
            for (tie, is) in [("stop", !piece.first), ("start", !piece.last)] {
                if is {
                    let _ = write!(x, "<tie type=\"{tie}\"/>");
                }
            }
            x.push_str("<voice>1</voice>");
            value(x, piece);
            if note.dead {
                x.push_str("<notehead>x</notehead>");
            }
            let bracket = if i == 0 { bracket } else { "" };
            self.notations(x, (piece, bracket), position, note, *place, i == 0);
            if note.palm_muted {
                x.push_str("<play><mute>palm</mute></play>");
            }
            x.push_str("</note>\n");
        }
    }

    fn notations(
        &self,
        x: &mut String,
        (piece, bracket): (&Piece, &str),
        position: usize,
        note: &LineNote,
        place: Fingered,
        lead: bool,
    ) {
        x.push_str("<notations>");
        for (tie, is) in [("stop", !piece.first), ("start", !piece.last)] {
            if is {
                let _ = write!(x, "<tied type=\"{tie}\"/>");
            }
        }
        x.push_str(bracket);
        x.push_str("<technical>");
        let at = self.grid.binary_search_by_key(&position, |n| n.position).unwrap_or(0);
        if piece.first && lead {
            match self.grid.get(at).and_then(|n| n.stroke) {
                Some(Stroke::Down) => x.push_str("<down-bow/>"),
                Some(Stroke::Up) => x.push_str("<up-bow/>"),
                None => {}
            }
        }
        let _ = write!(x, "<string>{}</string><fret>{}</fret>", place.string, place.fret);
        if lead {
            if let Some((sign, tag)) = legato(note.sounding).filter(|_| piece.first) {
                let _ = write!(x, "<{tag} type=\"stop\">{sign}</{tag}>");
            }
            let next = self.grid.get(at + 1).filter(|n| n.string() == place.string);
            if let Some((sign, tag)) = next.and_then(|n| legato(n.sounding)).filter(|_| piece.last) {
                let _ = write!(x, "<{tag} type=\"start\">{sign}</{tag}>");
            }
        }
        x.push_str("</technical>");
        if note.accent && piece.first && lead {
            x.push_str("<articulations><accent/></articulations>");
        }
        if note.way_back && piece.first && lead {
            x.push_str("<other-notation type=\"single\">way back</other-notation>");
        }
        x.push_str("</notations>");
    }
}

/// The tuplet sign of each piece of a bar: a bracket over the pieces of one ratio, from beat to beat.
fn brackets(bar: &Bar) -> Vec<&'static str> {
    let mut signs = vec![""; bar.pieces.len()];
    let mut open: Option<usize> = None;
    for (i, piece) in bar.pieces.iter().enumerate() {
        if piece.tuplet.is_none() {
            continue;
        }
        let from = *open.get_or_insert(i);
        let on_beat = (piece.start + piece.ticks - bar.start).is_multiple_of(TICKS);
        if on_beat || bar.pieces.get(i + 1).is_none_or(|n| n.tuplet != piece.tuplet) {
            if from < i {
                signs[from] = "<tuplet type=\"start\" bracket=\"yes\"/>";
                signs[i] = "<tuplet type=\"stop\"/>";
            }
            open = None;
        }
    }
    signs
}

fn legato(sounding: Sounding) -> Option<(&'static str, &'static str)> {
    match sounding {
        Sounding::Picked => None,
        Sounding::HammerOn => Some(("H", "hammer-on")),
        Sounding::PullOff => Some(("P", "pull-off")),
    }
}

fn value(x: &mut String, piece: &Piece) {
    let name = match piece.value {
        1 => "whole",
        2 => "half",
        4 => "quarter",
        8 => "eighth",
        16 => "16th",
        32 => "32nd",
        64 => "64th",
        128 => "128th",
        _ => "256th",
    };
    let _ = write!(x, "<type>{name}</type>");
    if let Some((actual, normal)) = piece.tuplet {
        let _ = write!(
            x,
            "<time-modification><actual-notes>{actual}</actual-notes><normal-notes>{normal}</normal-notes></time-modification>"
        );
    }
}

/// Step, sharp, octave.
fn spelled(key: u8) -> (char, bool, i32) {
    const STEPS: [(char, bool); 12] = [
        ('C', false),
        ('C', true),
        ('D', false),
        ('D', true),
        ('E', false),
        ('F', false),
        ('F', true),
        ('G', false),
        ('G', true),
        ('A', false),
        ('A', true),
        ('B', false),
    ];
    let (step, alter) = STEPS[usize::from(key % 12)];
    (step, alter, i32::from(key / 12) - 1)
}

/// XML has no place for most control characters; they become spaces.
fn xml_text(text: &str) -> String {
    let allowed = |c: char| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}') || matches!(c, '\n' | '\t');
    text.chars().map(|c| if allowed(c) { c } else { ' ' }).collect()
}
