//! Standard MIDI Files, format 0 and 1: one track or channel becomes the line.

use super::imported::{Imported, MAX_IMPORTED, Options, lose};
use super::played::{Frame, Pitch, drill};
use midly::{MetaMessage, MidiMessage, Timing, TrackEventKind};
use std::collections::BTreeMap;
use takegauge_drill::timing::TICKS;
use takegauge_drill::{DrillError, Place};
use takegauge_units::{Bpm, MidiKey};

/// The percussion channel of General MIDI, counted from 0.
const PERCUSSION: u8 = 9;

/// Start and end in file ticks, and the key.
type Note = (u64, u64, u8);

#[derive(Default)]
struct Song {
    /// Notes by track and channel.
    voices: BTreeMap<(usize, u8), Vec<Note>>,
    tempos: Vec<u32>,
    meter: Option<(u8, u8)>,
    meters: usize,
    name: Option<String>,
    other_events: bool,
    /// Least and most velocity.
    velocities: Option<(u8, u8)>,
}

pub(super) fn read(bytes: &[u8], file: &str, options: &Options) -> Result<Imported, DrillError> {
    let fault =
        |message: String| DrillError::Syntax { place: Place { file: file.to_owned(), line: 1, column: 1 }, message };
    // Looked at first: midly negates the frame rate's byte, which overflows for some values.
    let smpte = bytes.get(12).is_some_and(|b| b & 0x80 != 0);
    if smpte {
        return Err(fault("times in SMPTE frames; export the file with ticks per quarter note".to_owned()));
    }
    let (header, tracks) = midly::parse(bytes).map_err(|e| fault(format!("not a MIDI file that can be read: {e}")))?;
    let division = match header.timing {
        Timing::Metrical(division) => division,
        Timing::Timecode(..) => return Err(fault("times in SMPTE frames".to_owned())),
    };
    let mut song = Song::default();
    for (i, track) in tracks.take(256).enumerate() {
        let events = track.map_err(|e| fault(format!("track {} cannot be read: {e}", i + 1)))?;
        song.track(i, events).map_err(|e| fault(format!("track {} cannot be read: {e}", i + 1)))?;
    }
    let mut losses = Vec::new();
    let voices: Vec<_> = song.voices.values().collect();
    let chosen = voices.get(options.part.unwrap_or(1) - 1).ok_or_else(|| match voices.len() {
        0 => DrillError::NoNotes { file: file.to_owned() },
        n => fault(format!(
            "{n} tracks with notes (percussion not counted); track {} asked for",
            options.part.unwrap_or(1)
        )),
    })?;
    if voices.len() > 1 {
        lose(&mut losses, format!("One of {} tracks or channels with notes is brought in.", voices.len()));
    }
    if song.tempos.len() > 1 {
        lose(&mut losses, "Changes of tempo are not carried: the first one holds.");
    }
    if song.meters > 1 {
        lose(&mut losses, "Changes of meter are not carried: the first one holds.");
    }
    if song.other_events {
        lose(&mut losses, "Bends, controllers and programs are not carried.");
    }
    if song.velocities.is_some_and(|(least, most)| least < most) {
        lose(
            &mut losses,
            "Velocities differ; they are not carried, so accents are lost: write > after accented notes.",
        );
    }
    let written =
        song.tempos.first().map(|t| whole_if_near(60e6 / f64::from(*t))).filter(|t| (20.0..=400.0).contains(t));
    let tempo = written.map(Bpm).or(options.tempo).unwrap_or_else(|| {
        lose(&mut losses, "No tempo from 20 to 400 is written: 120 is taken for granted.");
        Bpm(120.0)
    });
    let (beats_per_bar, beat_unit) = song.meter.unwrap_or((4, 4));
    let scale = |tick: u64| {
        let quarters = u128::from(tick) * u128::from(TICKS) * u128::from(beat_unit);
        let per = u128::from(division.as_int().max(1)) * 4;
        ((quarters + per / 2) / per).min(u128::from(u64::MAX / 4)) as u64
    };
    let pitches =
        chosen.iter().map(|n| Pitch { start: scale(n.0), end: scale(n.1), key: MidiKey(n.2), string: None }).collect();
    let name = song.name.unwrap_or_default();
    let frame = Frame { name, tempo, beats_per_bar, beat_unit, bars: true };
    drill(pitches, frame, file, options, losses)
}

/// Tempos are stored as whole microseconds; 170 comes back as 170.00008.
fn whole_if_near(tempo: f64) -> f64 {
    let rounded = (tempo * 100.0).round() / 100.0;
    if (tempo / rounded - 1.0).abs() < 2e-6 { rounded } else { tempo }
}

impl Song {
    fn track(&mut self, index: usize, events: midly::EventIter<'_>) -> Result<(), midly::Error> {
        let mut now = 0u64;
        let mut sounding: BTreeMap<(u8, u8), u64> = BTreeMap::new();
        for event in events {
            let event = event?;
            now += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Midi { channel, message } => {
                    let channel = channel.as_int();
                    let key = match message {
                        MidiMessage::NoteOn { key, vel } if vel.as_int() > 0 => {
                            if channel != PERCUSSION {
                                let (least, most) = self.velocities.unwrap_or((u8::MAX, 0));
                                self.velocities = Some((least.min(vel.as_int()), most.max(vel.as_int())));
                                self.end(index, channel, key.as_int(), now, &mut sounding);
                                sounding.insert((channel, key.as_int()), now);
                            }
                            continue;
                        }
                        MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => key.as_int(),
                        _ => {
                            self.other_events |= channel != PERCUSSION;
                            continue;
                        }
                    };
                    self.end(index, channel, key, now, &mut sounding);
                }
                TrackEventKind::Meta(MetaMessage::Tempo(t)) if self.tempos.last() != Some(&t.as_int()) => {
                    self.tempos.push(t.as_int());
                }
                TrackEventKind::Meta(MetaMessage::TimeSignature(beats, power, _, _)) => {
                    let unit = 1u8.checked_shl(u32::from(power)).filter(|u| [1, 2, 4, 8, 16].contains(u));
                    if let Some(meter) = unit.map(|u| (beats, u)).filter(|m| (1..=32).contains(&m.0)) {
                        self.meters += usize::from(self.meter != Some(meter));
                        self.meter.get_or_insert(meter);
                    }
                }
                TrackEventKind::Meta(MetaMessage::TrackName(name)) if self.name.is_none() => {
                    self.name = Some(String::from_utf8_lossy(name).into_owned()).filter(|n| !n.trim().is_empty());
                }
                _ => {}
            }
        }
        // A note that is never let go ends with the track.
        for ((channel, key), start) in sounding {
            self.push(index, channel, (start, now, key));
        }
        Ok(())
    }

    fn end(&mut self, index: usize, channel: u8, key: u8, now: u64, sounding: &mut BTreeMap<(u8, u8), u64>) {
        if let Some(start) = sounding.remove(&(channel, key)) {
            self.push(index, channel, (start, now, key));
        }
    }

    fn push(&mut self, index: usize, channel: u8, note: Note) {
        let voice = self.voices.entry((index, channel)).or_default();
        if voice.len() <= MAX_IMPORTED {
            voice.push(note);
        }
    }
}
