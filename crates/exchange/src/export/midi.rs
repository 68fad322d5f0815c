//! A Standard MIDI File: the notes of all repeats, a click, a marker at each repeat.

use super::exported::Exported;
use crate::smf::{Event, Smf};
use takegauge_click::{ClickKind, ClickOptions, ClickTrack};
use takegauge_drill::{Drill, Sounding};
use takegauge_units::Seconds;

pub(super) fn write(drill: &Drill) -> Exported {
    let grid = drill.grid();
    let mut smf = Smf::new(&drill.name, vec![(Seconds(0.0), drill.tempo)], (drill.beats_per_bar, drill.beat_unit));
    // The click of a drill without a count-in starts at the bar line on or before the first step.
    let options = ClickOptions { count_in_bars: 0, ..ClickOptions::default() };
    let click = ClickTrack::of(drill, &options).ok();
    let from = click.as_ref().and_then(|c| c.steps.first()).map_or(Seconds(0.0), |s| s.notes_from);
    let mut notes = Vec::with_capacity(grid.len());
    for note in &grid {
        if note.position == grid.first().map_or(0, |n| n.position) {
            smf.marker(from + note.expected, &format!("repeat {}", note.repeat + 1));
        }
        let velocity = if note.accent { 112 } else { 84 };
        for key in &note.keys {
            let (start, end) = (from + note.expected, from + note.expected + note.lasts);
            notes.push(Event { from: start, to: end, channel: 0, key: key.0, velocity });
        }
    }
    smf.track("Notes", &notes);
    if let Some(click) = click {
        let clicks: Vec<Event> = click
            .clicks
            .iter()
            .map(|c| {
                let key = if c.kind == ClickKind::FirstBeat { 76 } else { 77 };
                Event { from: c.at, to: c.at + Seconds(0.02), channel: 9, key, velocity: 90 }
            })
            .collect();
        smf.track("Click", &clicks);
    }
    Exported { bytes: smf.bytes(), losses: losses(drill, &grid) }
}

fn losses(drill: &Drill, grid: &[takegauge_drill::GridNote]) -> Vec<String> {
    let mut losses = vec!["MIDI carries pitches and times, no strings, frets or strokes.".to_owned()];
    if drill.repeats > 1 {
        losses.push(format!("The {} repeats are written out one after another.", drill.repeats));
    }
    let mut lost = |is: bool, what: &str| {
        if is {
            losses.push(what.to_owned());
        }
    };
    lost(grid.iter().any(|n| n.sounding != Sounding::Picked), "Hammer-ons and pull-offs become plain notes.");
    lost(grid.iter().any(|n| n.dead), "Dead notes become notes of their fret's pitch.");
    lost(grid.iter().any(|n| n.palm_muted), "Palm muting is not carried.");
    lost(grid.iter().any(|n| n.way_back), "Which notes are the way back is not carried.");
    lost(drill.a4.0 != 440.0, "A4 other than 440 Hz is not carried.");
    lost(drill.capo > 0, "The capo is counted into the pitches.");
    lost(drill.swing != 50.0, "Swing is written out as times.");
    losses
}
