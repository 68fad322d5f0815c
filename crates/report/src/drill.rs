//! What a drill asks for, note by note, as data.

use serde::Serialize;
use takegauge_drill::{Change, Drill, GridNote, Sounding, Stroke};

/// A drill as data: JSON shape `takegauge/drill/1`.
#[derive(Debug, Serialize)]
pub struct DrillReport {
    schema: &'static str,
    name: String,
    tempo_bpm: f64,
    steps_per_beat: u8,
    beats_per_bar: u8,
    beat_unit: u8,
    repeats: u32,
    duration_s: f64,
    notes: Vec<NoteShape>,
}

#[derive(Debug, Serialize)]
struct NoteShape {
    index: usize,
    repeat: usize,
    position: usize,
    /// From the drill's first step.
    expected_s: f64,
    /// How long it is to sound.
    lasts_s: f64,
    string: u8,
    fret: u8,
    /// More than one where strings are struck together.
    midi: Vec<u8>,
    sounding: Sounding,
    stroke: Option<Stroke>,
    change: Option<Change>,
    after_gap: bool,
    accent: bool,
    dead: bool,
    palm_muted: bool,
    way_back: bool,
}

impl From<&GridNote> for NoteShape {
    fn from(n: &GridNote) -> Self {
        Self {
            index: n.index,
            repeat: n.repeat,
            position: n.position,
            expected_s: n.expected.0,
            lasts_s: n.lasts.0,
            string: n.string(),
            fret: n.fret(),
            midi: n.keys.iter().map(|k| k.0).collect(),
            sounding: n.sounding,
            stroke: n.stroke,
            change: n.change,
            after_gap: n.after_gap,
            accent: n.accent,
            dead: n.dead,
            palm_muted: n.palm_muted,
            way_back: n.way_back,
        }
    }
}

impl From<&Drill> for DrillReport {
    fn from(drill: &Drill) -> Self {
        Self {
            schema: "takegauge/drill/1",
            name: drill.name.clone(),
            tempo_bpm: drill.tempo.0,
            steps_per_beat: drill.steps_per_beat,
            beats_per_bar: drill.beats_per_bar,
            beat_unit: drill.beat_unit,
            repeats: drill.repeats,
            duration_s: drill.duration().0,
            notes: drill.grid().iter().map(NoteShape::from).collect(),
        }
    }
}
