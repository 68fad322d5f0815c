//! For tests: drills from a line, and takes with exact answers.

use takegauge_align::{Alignment, Pass, Placed, Status, TempoFrom};
use takegauge_drill::{Drill, GridNote, Stroke};
use takegauge_measure::{Envelope, Measured, NoteMeasure};
use takegauge_units::{Bpm, Decibels, Millis, Seconds};

use crate::score::TakeSection;
use crate::{Input, Mode};

/// A drill of sixteenths at 120.
pub(crate) fn drill(line: &str, repeats: u32) -> Drill {
    let text = format!(
        "name = \"test\"\ntempo_bpm = 120\nsteps_per_beat = 4\nbeats_per_bar = 4\nrepeats = {repeats}\n\
         tuning = \"E2 A2 D3 G3 B3 E4\"\npicking = \"alternate\"\nfirst_stroke = \"down\"\nline = \"\"\"\n{line}\n\"\"\"\n"
    );
    Drill::parse(&text, "test.toml").expect("test drill")
}

/// A take of one pass at `tempo` of a drill at 120, from 1 s on; `deviation_ms` answers per note, `None` a missed one.
pub(crate) fn aligned(
    grid: &[GridNote],
    tempo: f64,
    mut deviation_ms: impl FnMut(&GridNote) -> Option<f64>,
) -> Measured {
    let stretch = 120.0 / tempo;
    let notes: Vec<Placed> = grid
        .iter()
        .map(|g| {
            let expected = 1.0 + g.expected.0 * stretch;
            let played = deviation_ms(g).map(|d| Seconds(expected + d * 1e-3));
            Placed {
                index: g.index,
                status: if played.is_some() { Status::Played } else { Status::Missed },
                attack: played.map(|_| g.index),
                expected: Seconds(expected),
                played,
                uncertainty: played.map(|_| Millis(0.5)),
                heard: None,
            }
        })
        .collect();
    let measures = notes
        .iter()
        .map(|p| NoteMeasure {
            level: p.played.map(|_| Decibels(-12.0)),
            before: None,
            heard: None,
            rise: None,
            smear: None,
        })
        .collect();
    let end = notes.last().map_or(Seconds(1.0), |n| n.expected);
    Measured {
        alignment: Alignment {
            passes: vec![Pass {
                offset: Seconds(1.0),
                tempo: Bpm(tempo),
                from: Seconds(1.0),
                to: end,
                anew: Vec::new(),
                click_beat: None,
                notes,
            }],
            extra: Vec::new(),
            faint: Vec::new(),
            set_aside: Vec::new(),
            cents_off: 0.0,
            tempo_from: TempoFrom::Drill,
            remarks: Vec::new(),
        },
        notes: vec![measures],
        extra: Vec::new(),
        strokes: Vec::new(),
        beginnings: Vec::new(),
        envelope: Envelope { step: Seconds(0.01), extremes: Vec::new() },
        detector_sd: Millis(0.5),
    }
}

/// What the program hands in for such a take.
pub(crate) fn input<'a>(drill: &'a Drill, grid: &'a [GridNote], measured: &'a Measured) -> Input<'a> {
    Input {
        drill,
        grid,
        measured,
        take: TakeSection {
            path: "take.wav".into(),
            sample_rate_hz: 48_000,
            channels: 1,
            channel_used: "the only one".into(),
            duration_s: 60.0,
        },
        recording: None,
        warnings: Vec::new(),
        first_stroke: Stroke::Down,
        mode: Mode::Steady,
        asked_tempo: None,
        after_slip: crate::AfterSlip::Keep,
        latency: None,
        level_withheld: None,
        seed: 1,
        version: "0.0.0",
        with_waveform: false,
    }
}
