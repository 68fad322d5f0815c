//! Standard MIDI Files whose every event is within 0.1 ms: events are placed by their time, not by counting beats,
//! so that the rounding of the tempo (whole microseconds a quarter note) adds nothing up.

use midly::num::{u4, u7, u15, u24, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Timing, TrackEvent, TrackEventKind};
use takegauge_units::{Bpm, Seconds};

/// Ticks a quarter note: the least common multiple of 1 to 12, so that all subdivisions fall on ticks. At 20 beats a
/// minute a tick lasts 0.108 ms, so that rounding to the nearest is off by 0.054 ms at most.
const DIVISION: u16 = 27_720;

/// A note as it goes into a track.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Event {
    pub(crate) from: Seconds,
    pub(crate) to: Seconds,
    /// 0 to 15; 9 is percussion.
    pub(crate) channel: u8,
    pub(crate) key: u8,
    pub(crate) velocity: u8,
}

/// Where a note starts (true) or ends, in ticks.
type Edge = (u64, bool, Event);

struct Segment {
    tick: u64,
    micros: f64,
    micros_per_quarter: u32,
}

/// A format 1 file under construction: a conductor track and note tracks.
pub(crate) struct Smf {
    segments: Vec<Segment>,
    conductor: Vec<(u64, Meta)>,
    tracks: Vec<(String, Vec<Edge>)>,
}

enum Meta {
    Name(String),
    Tempo(u32),
    Meter(u8, u8),
    Marker(String),
}

impl Smf {
    /// `tempos`: from when on which tempo, ascending, the first at 0 s. `meter`: beats a bar and the beat's value.
    pub(crate) fn new(name: &str, tempos: Vec<(Seconds, Bpm)>, meter: (u8, u8)) -> Self {
        let mut smf =
            Self { segments: Vec::new(), conductor: vec![(0, Meta::Name(name.to_owned()))], tracks: Vec::new() };
        for (at, tempo) in tempos {
            let tick = smf.tick(at);
            let micros = smf.micros(tick);
            let micros_per_quarter = (60e6 / tempo.0).round().clamp(1.0, 16_777_215.0) as u32;
            smf.segments.push(Segment { tick, micros, micros_per_quarter });
            smf.conductor.push((tick, Meta::Tempo(micros_per_quarter)));
        }
        smf.conductor.push((0, Meta::Meter(meter.0, meter.1)));
        smf
    }

    fn segment(&self, before: impl Fn(&Segment) -> bool) -> Option<&Segment> {
        self.segments.iter().rev().find(|s| before(s)).or(self.segments.first())
    }

    fn tick(&self, at: Seconds) -> u64 {
        let micros = (at.0 * 1e6).max(0.0);
        self.segment(|s| s.micros <= micros).map_or(0, |s| {
            let ticks = (micros - s.micros) / f64::from(s.micros_per_quarter) * f64::from(DIVISION);
            s.tick + ticks.round().max(0.0) as u64
        })
    }

    fn micros(&self, tick: u64) -> f64 {
        self.segment(|s| s.tick <= tick).map_or(0.0, |s| {
            let quarters = tick.saturating_sub(s.tick) as f64 / f64::from(DIVISION);
            s.micros + quarters * f64::from(s.micros_per_quarter)
        })
    }

    pub(crate) fn marker(&mut self, at: Seconds, text: &str) {
        let tick = self.tick(at);
        self.conductor.push((tick, Meta::Marker(text.to_owned())));
    }

    pub(crate) fn track(&mut self, name: &str, notes: &[Event]) {
        let mut events: Vec<_> = Vec::with_capacity(notes.len() * 2);
        for note in notes {
            let from = self.tick(note.from);
            events.push((from, true, *note));
            events.push((self.tick(note.to).max(from + 1), false, *note));
        }
        // At one tick notes end before others start.
        events.sort_by_key(|(tick, on, _)| (*tick, *on));
        self.tracks.push((name.to_owned(), events));
    }

    pub(crate) fn bytes(mut self) -> Vec<u8> {
        self.conductor.sort_by_key(|(tick, _)| *tick);
        let mut tracks = Vec::new();
        let conductor = self.conductor.iter().map(|(tick, meta)| {
            let message = match meta {
                Meta::Name(name) => MetaMessage::TrackName(name.as_bytes()),
                Meta::Tempo(micros) => MetaMessage::Tempo(u24::from(*micros)),
                Meta::Meter(beats, unit) => MetaMessage::TimeSignature(*beats, unit.max(&1).ilog2() as u8, 24, 8),
                Meta::Marker(text) => MetaMessage::Marker(text.as_bytes()),
            };
            (*tick, TrackEventKind::Meta(message))
        });
        tracks.push(track(conductor));
        for (name, events) in &self.tracks {
            let named = std::iter::once((0, TrackEventKind::Meta(MetaMessage::TrackName(name.as_bytes()))));
            let notes = events.iter().map(|(tick, on, note)| {
                let (key, vel) = (u7::from(note.key.min(127)), u7::from(note.velocity.clamp(1, 127)));
                let message = if *on {
                    MidiMessage::NoteOn { key, vel }
                } else {
                    MidiMessage::NoteOff { key, vel: u7::from(64) }
                };
                (*tick, TrackEventKind::Midi { channel: u4::from(note.channel.min(15)), message })
            });
            tracks.push(track(named.chain(notes)));
        }
        let header = Header::new(Format::Parallel, Timing::Metrical(u15::from(DIVISION)));
        let mut bytes = Vec::new();
        // Writing to memory fails only where a track exceeds 4 GiB, which the limit on notes excludes.
        if midly::write_std(&header, tracks.iter(), &mut bytes).is_err() {
            bytes.clear();
        }
        bytes
    }
}

fn track<'a>(events: impl Iterator<Item = (u64, TrackEventKind<'a>)>) -> Vec<TrackEvent<'a>> {
    let mut now = 0;
    let mut track = Vec::new();
    for (tick, kind) in events {
        let delta = u28::from((tick.saturating_sub(now)).min(0x0fff_ffff) as u32);
        now = tick;
        track.push(TrackEvent { delta, kind });
    }
    track.push(TrackEvent { delta: u28::from(0), kind: TrackEventKind::Meta(MetaMessage::EndOfTrack) });
    track
}

/// Start times of all notes of a file, in seconds, ascending: a plain reading for tests.
#[cfg(test)]
pub(crate) fn note_starts(bytes: &[u8]) -> Vec<f64> {
    let smf = midly::Smf::parse(bytes).unwrap();
    let Timing::Metrical(division) = smf.header.timing else { panic!("metrical") };
    let mut tempos = Vec::new();
    let mut starts = Vec::new();
    for track in &smf.tracks {
        let mut tick = 0u64;
        for event in track {
            tick += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Meta(MetaMessage::Tempo(t)) => tempos.push((tick, f64::from(t.as_int()))),
                TrackEventKind::Midi { message: MidiMessage::NoteOn { .. }, .. } => starts.push(tick),
                _ => {}
            }
        }
    }
    let seconds = |tick: u64| {
        let mut total = 0.0;
        for (i, (from, micros)) in tempos.iter().enumerate() {
            let to = tempos.get(i + 1).map_or(u64::MAX, |t| t.0).min(tick);
            total += to.saturating_sub(*from) as f64 * micros / f64::from(division.as_int()) / 1e6;
        }
        total
    };
    starts.sort_unstable();
    starts.into_iter().map(seconds).collect()
}
