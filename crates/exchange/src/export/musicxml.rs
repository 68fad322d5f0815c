//! MusicXML 4.0 (W3C Music Notation Community Group, Final Report 1 June 2021): one part on a tablature staff, pitches
//! as they sound, strokes as down-bow and up-bow (which the standard also uses for plectrum strokes).
//!
//! What the standard has no place for goes into `miscellaneous-field`s named after the drill file's keys.

use super::exported::{Exported, stroke_losses};
use super::pieces::{Bar, Piece, bars};
use super::xml::Xml;
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
    let score = Score { drill, grid: &grid[..notes.min(grid.len())], unit, divisions: quarter / unit };
    let mut x = Xml::new();
    x.within("score-partwise", &[("version", "4.0")], |x| {
        score.head(x);
        x.within("part", &[("id", "P1")], |x| {
            for (i, bar) in bars.iter().enumerate() {
                score.measure(x, bar, i, bars.len());
            }
        });
    });
    Exported { bytes: x.bytes(), losses }
}

struct Score<'a> {
    drill: &'a Drill,
    /// The first time through.
    grid: &'a [GridNote],
    /// Ticks of one MusicXML division.
    unit: u64,
    /// Divisions of a quarter note.
    divisions: u64,
}

impl Score<'_> {
    fn head(&self, x: &mut Xml) {
        let d = self.drill;
        x.within("work", &[], |x| x.leaf("work-title", xml_text(&d.name)));
        x.within("identification", &[], |x| {
            x.within("encoding", &[], |x| x.leaf("software", "Takegauge"));
            x.within("miscellaneous", &[], |x| self.fields(x));
        });
        x.within("part-list", &[], |x| {
            x.within("score-part", &[("id", "P1")], |x| x.leaf("part-name", "Guitar"));
        });
    }

    fn fields(&self, x: &mut Xml) {
        let d = self.drill;
        let mut field = |name: &str, value: String| x.leaf_with("miscellaneous-field", &[("name", name)], value);
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
            field("note", xml_text(&d.note));
        }
    }

    fn measure(&self, x: &mut Xml, bar: &Bar, i: usize, of: usize) {
        let full = TICKS * u64::from(self.drill.beats_per_bar.max(1));
        let pickup = self.drill.pickup_steps > 0;
        let number = (if pickup { i } else { i + 1 }).to_string();
        let mut attributes = vec![("number", number.as_str())];
        if i == 0 && pickup || bar.end - bar.start < full {
            attributes.push(("implicit", "yes"));
        }
        let repeated = self.drill.repeats > 1;
        x.within("measure", &attributes, |x| {
            if i == 0 {
                self.attributes(x);
                if repeated {
                    x.within("barline", &[("location", "left")], |x| x.empty("repeat", &[("direction", "forward")]));
                }
                self.tempo(x);
            }
            for (piece, bracket) in bar.pieces.iter().zip(brackets(bar)) {
                self.piece(x, piece, bracket);
            }
            if repeated && i + 1 == of {
                let times = self.drill.repeats.to_string();
                x.within("barline", &[("location", "right")], |x| {
                    x.empty("repeat", &[("direction", "backward"), ("times", &times)]);
                });
            }
        });
    }

    fn attributes(&self, x: &mut Xml) {
        let d = self.drill;
        x.within("attributes", &[], |x| {
            x.leaf("divisions", self.divisions);
            x.within("time", &[], |x| {
                x.leaf("beats", d.beats_per_bar);
                x.leaf("beat-type", d.beat_unit);
            });
            x.within("clef", &[], |x| {
                x.leaf("sign", "TAB");
                x.leaf("line", d.tuning.strings().min(9) / 2 + 2);
            });
            x.within("staff-details", &[], |x| {
                x.leaf("staff-lines", d.tuning.strings());
                for (line, key) in d.tuning.open.iter().enumerate() {
                    let (step, sharp, octave) = spelled(key.0);
                    x.within("staff-tuning", &[("line", &(line + 1).to_string())], |x| {
                        x.leaf("tuning-step", step);
                        if sharp {
                            x.leaf("tuning-alter", 1);
                        }
                        x.leaf("tuning-octave", octave);
                    });
                }
                if d.capo > 0 {
                    x.leaf("capo", d.capo);
                }
            });
        });
    }

    fn tempo(&self, x: &mut Xml) {
        let d = self.drill;
        let tempo = d.tempo.0.to_string();
        x.within("direction", &[("placement", "above")], |x| {
            x.within("direction-type", &[], |x| {
                x.within("metronome", &[], |x| {
                    x.leaf("beat-unit", "quarter");
                    x.leaf("per-minute", &tempo);
                });
            });
            if d.swing == 50.0 || !matches!(d.steps_per_beat, 2 | 4) {
                x.empty("sound", &[("tempo", &tempo)]);
                return;
            }
            x.within("sound", &[("tempo", &tempo)], |x| {
                let first = (d.swing * 10.0).round() as u32;
                x.within("swing", &[], |x| {
                    x.leaf("first", first);
                    x.leaf("second", 1000 - first);
                    x.leaf("swing-type", if d.steps_per_beat == 2 { "eighth" } else { "16th" });
                });
            });
        });
    }

    fn piece(&self, x: &mut Xml, piece: &Piece, bracket: Option<Tuplet>) {
        let duration = piece.ticks / self.unit;
        let Some((position, note)) = piece.note.and_then(|p| match self.drill.line.get(p) {
            Some(Step::Note(note)) => Some((p, note)),
            _ => None,
        }) else {
            x.within("note", &[], |x| {
                x.empty("rest", &[]);
                x.leaf("duration", duration);
                x.leaf("voice", 1);
                value(x, piece);
                if let Some(tuplet) = bracket {
                    x.within("notations", &[], |x| x.empty("tuplet", tuplet));
                }
            });
            return;
        };
        for (i, place) in note.fingered.iter().enumerate() {
            x.within("note", &[], |x| {
                if i > 0 {
                    x.empty("chord", &[]);
                }
                let (step, sharp, octave) = spelled(self.drill.key_at(place.string, place.fret).map_or(0, |k| k.0));
                x.within("pitch", &[], |x| {
                    x.leaf("step", step);
                    if sharp {
                        x.leaf("alter", 1);
                    }
                    x.leaf("octave", octave);
                });
                x.leaf("duration", duration);
                for tie in ties(piece) {
                    x.empty("tie", &[("type", tie)]);
                }
                x.leaf("voice", 1);
                value(x, piece);
                if note.dead {
                    x.leaf("notehead", "x");
                }
                let bracket = bracket.filter(|_| i == 0);
                x.within("notations", &[], |x| self.notations(x, (piece, bracket), position, note, *place, i == 0));
                if note.palm_muted {
                    x.within("play", &[], |x| x.leaf("mute", "palm"));
                }
            });
        }
    }

    fn notations(
        &self,
        x: &mut Xml,
        (piece, bracket): (&Piece, Option<Tuplet>),
        position: usize,
        note: &LineNote,
        place: Fingered,
        lead: bool,
    ) {
        for tie in ties(piece) {
            x.empty("tied", &[("type", tie)]);
        }
        if let Some(tuplet) = bracket {
            x.empty("tuplet", tuplet);
        }
        x.within("technical", &[], |x| {
            let at = self.grid.binary_search_by_key(&position, |n| n.position).unwrap_or(0);
            if let Some(stroke) = self.grid.get(at).and_then(|n| n.stroke).filter(|_| piece.first && lead) {
                x.empty(if stroke == Stroke::Down { "down-bow" } else { "up-bow" }, &[]);
            }
            x.leaf("string", place.string);
            x.leaf("fret", place.fret);
            if lead {
                if let Some((sign, tag)) = legato(note.sounding).filter(|_| piece.first) {
                    x.leaf_with(tag, &[("type", "stop")], sign);
                }
                let next = self.grid.get(at + 1).filter(|n| n.string() == place.string);
                if let Some((sign, tag)) = next.and_then(|n| legato(n.sounding)).filter(|_| piece.last) {
                    x.leaf_with(tag, &[("type", "start")], sign);
                }
            }
        });
        if note.accent && piece.first && lead {
            x.within("articulations", &[], |x| x.empty("accent", &[]));
        }
        if note.way_back && piece.first && lead {
            x.leaf_with("other-notation", &[("type", "single")], "way back");
        }
    }
}

/// The ends of ties that a piece has.
fn ties(piece: &Piece) -> impl Iterator<Item = &'static str> {
    [("stop", !piece.first), ("start", !piece.last)].into_iter().filter(|t| t.1).map(|t| t.0)
}

/// A tuplet sign's attributes.
type Tuplet = &'static [(&'static str, &'static str)];

/// The tuplet sign of each piece of a bar: a bracket over the pieces of one ratio, from beat to beat.
fn brackets(bar: &Bar) -> Vec<Option<Tuplet>> {
    let mut signs: Vec<Option<Tuplet>> = vec![None; bar.pieces.len()];
    let mut open: Option<usize> = None;
    for (i, piece) in bar.pieces.iter().enumerate() {
        if piece.tuplet.is_none() {
            continue;
        }
        let from = *open.get_or_insert(i);
        let on_beat = (piece.start + piece.ticks - bar.start).is_multiple_of(TICKS);
        if on_beat || bar.pieces.get(i + 1).is_none_or(|n| n.tuplet != piece.tuplet) {
            if from < i {
                signs[from] = Some(&[("type", "start"), ("bracket", "yes")]);
                signs[i] = Some(&[("type", "stop")]);
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

fn value(x: &mut Xml, piece: &Piece) {
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
    x.leaf("type", name);
    if let Some((actual, normal)) = piece.tuplet {
        x.within("time-modification", &[], |x| {
            x.leaf("actual-notes", actual);
            x.leaf("normal-notes", normal);
        });
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
