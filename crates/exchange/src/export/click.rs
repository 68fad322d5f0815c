//! A click track as a Standard MIDI File.

use crate::smf::{Event, Smf};
use takegauge_click::{ClickKind, ClickTrack};
use takegauge_units::Seconds;

/// A click track as a Standard MIDI File (format 1): clicks on the percussion channel, a marker and the tempo where
/// each step starts; every click within 0.1 ms.
///
/// Wood blocks are keys 76 and 77 of the percussion map (General MIDI System Level 1, 1991, percussion key map).
pub fn click_midi(click: &ClickTrack) -> Vec<u8> {
    let tempos = click.steps.iter().map(|s| (s.click_from, s.tempo)).collect();
    let mut smf = Smf::new("Click", tempos, (click.beats_per_bar, click.beat_unit));
    for (i, step) in click.steps.iter().enumerate() {
        smf.marker(step.notes_from, &format!("step {} at {} bpm", i + 1, step.tempo.0));
    }
    let clicks = click.clicks.iter().map(|c| {
        let (key, velocity) = match c.kind {
            ClickKind::FirstBeat => (76, 110),
            ClickKind::Beat => (77, 90),
            ClickKind::Between => (77, 50),
        };
        Event { from: c.at, to: c.at + Seconds(0.02), channel: 9, key, velocity }
    });
    smf.track("Click", &clicks.collect::<Vec<_>>());
    smf.bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_click::ClickOptions;
    use takegauge_drill::Drill;
    use takegauge_units::Bpm;

    #[test]
    fn midi_clicks_come_within_a_tenth_of_a_millisecond() {
        let text = format!(
            "name='t'\ntempo_bpm=120\nsteps_per_beat=4\ntuning='standard'\nrepeats=40\nline='{}'",
            "6:1 6:2 6:3 6:4 ".repeat(4)
        );
        let d = Drill::parse(&text, "t").unwrap();
        let options =
            ClickOptions { tempos: vec![Bpm(171.3), Bpm(97.7)], clicks_per_beat: 3, ..ClickOptions::default() };
        let track = ClickTrack::of(&d, &options).unwrap();
        let read = crate::smf::note_starts(&click_midi(&track));
        assert_eq!(read.len(), track.clicks.len());
        for (a, b) in read.iter().zip(&track.clicks) {
            assert!((a - b.at.0).abs() < 1e-4, "{a} {}", b.at.0);
        }
    }
}
