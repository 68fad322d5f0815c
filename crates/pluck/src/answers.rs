//! The truth about a take as a file: what `test-audio/` keeps beside each recording. Units stand in the names; times
//! are rounded to a microsecond, the rest to a thousandth.

use crate::performance::{ExtraKind, Performance, Status};
use crate::scenes::Scene;
use serde::Serialize;
use takegauge_drill::{ChangeKind, Stroke};

/// Of one take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answers {
    /// The scene, for [`crate::scenes::by_name`].
    pub scene: String,
    /// What was put in, in words.
    pub what: String,
    /// Of the recording.
    pub sample_rate_hz: u32,
    /// At the start of each pass.
    pub tempo_played_bpm: f64,
    /// The stretches of playing.
    pub passes: Vec<PassAnswer>,
    /// Every attack, extra notes included, in order.
    pub attacks_s: Vec<f64>,
    /// Every note asked for, pass by pass.
    pub notes: Vec<NoteAnswer>,
    /// What nobody asked for.
    pub extras: Vec<ExtraAnswer>,
}

/// One stretch of playing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PassAnswer {
    /// Where its first note belongs.
    pub offset_s: f64,
    /// Where its last note ends.
    pub end_s: f64,
    /// The first note's index in the drill.
    pub first_index: usize,
    /// How many follow, that one included.
    pub notes: usize,
}

/// One note asked for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoteAnswer {
    /// The pass, from 0.
    pub pass: usize,
    /// In the drill over all repeats, from 0.
    pub index: usize,
    /// From 0.
    pub repeat: usize,
    /// Step of the line, from 0.
    pub position: usize,
    /// What became of it.
    pub status: Status,
    /// Where it belongs.
    pub grid_s: f64,
    /// Its attack.
    pub played_s: Option<f64>,
    /// By place, 1 nearest the floor.
    pub string: u8,
    /// The fret held.
    pub fret: u8,
    /// The pitch that sounded or should have.
    pub midi: u8,
    /// None on legato notes.
    pub stroke: Option<Stroke>,
    /// The change it arrives by.
    pub change: Option<ChangeAnswer>,
    /// How long the string left is heard after the attack, until 20 dB down.
    pub overlap_ms: Option<f64>,
}

/// A string change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct ChangeAnswer {
    /// The string left.
    pub from: u8,
    /// The string reached.
    pub to: u8,
    /// None next to a legato note or a chord.
    pub kind: Option<ChangeKind>,
    /// The last stroke on the string left.
    pub leaves_on: Option<Stroke>,
}

/// A note nobody asked for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExtraAnswer {
    /// Its attack.
    pub at_s: f64,
    /// Why it sounds.
    pub kind: ExtraKind,
    /// What it sounds.
    pub midi: u8,
    /// The note it follows.
    pub after_index: Option<usize>,
}

fn us(seconds: f64) -> f64 {
    (seconds * 1e6).round() / 1e6
}

impl Answers {
    /// For a scene and what was played of it.
    pub fn of(scene: &Scene, played: &Performance) -> Self {
        let notes = played.notes.iter().map(|n| NoteAnswer {
            pass: n.pass,
            index: n.index,
            repeat: n.repeat,
            position: n.position,
            status: n.status,
            grid_s: us(n.grid.0),
            played_s: n.played.map(|p| us(p.0)),
            string: n.string,
            fret: n.fret,
            midi: n.key.0,
            stroke: n.stroke,
            change: n.change.map(|c| ChangeAnswer { from: c.from, to: c.to, kind: c.kind, leaves_on: c.leaves_on }),
            overlap_ms: n.overlap.map(|o| (o.0 * 1e3).round() / 1e3),
        });
        let extras = played.extras.iter().map(|e| ExtraAnswer {
            at_s: us(e.at.0),
            kind: e.kind,
            midi: e.key.0,
            after_index: e.after_index,
        });
        let passes = played.passes.iter().map(|p| PassAnswer {
            offset_s: us(p.offset.0),
            end_s: us(p.end.0),
            first_index: p.first,
            notes: p.notes,
        });
        Self {
            scene: scene.name.clone(),
            what: scene.what.clone(),
            sample_rate_hz: scene.sound.rate_rendered().hz(),
            tempo_played_bpm: (scene.drill.tempo.0 * played.tempo_factor * 1e6).round() / 1e6,
            passes: passes.collect(),
            attacks_s: played.attacks().iter().map(|a| us(a.0)).collect(),
            notes: notes.collect(),
            extras: extras.collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenes;

    #[test]
    fn answers_hold_every_note_and_every_attack() {
        let scene = scenes::by_name("mixed_errors").unwrap();
        let played = scene.perform();
        let answers = Answers::of(&scene, &played);
        assert_eq!(answers.notes.len(), 108);
        let sounded = answers.notes.iter().filter(|n| n.played_s.is_some()).count();
        assert_eq!(sounded, 106);
        assert_eq!(answers.attacks_s.len(), sounded + answers.extras.len());
        assert!(answers.attacks_s.is_sorted());
        assert_eq!(answers.passes.len(), 1);
        assert_eq!(answers.passes[0].offset_s, 0.8);
    }
}
