//! Takes with exact answers: a drill as a simulated player plays it, handed to the review as a perfect measurement
//! would be, but for 0.5 ms of detector error.

use takegauge_align::{Alignment, Extra, Pass, Placed, Status, TempoFrom};
use takegauge_drill::{Drill, GridNote};
use takegauge_measure::{Envelope, ExtraMeasure, Measured, NoteMeasure};
use takegauge_pluck::{Performance, PlayedNote, Player, perform_grid};
use takegauge_review::{AfterSlip, Input, Mode, ScoreReport, TakeSection, score};
use takegauge_stats::Seeded;
use takegauge_units::{Bpm, Decibels, Millis, Seconds};

/// SD of the detector's error, ms.
const DETECTOR_MS: f64 = 0.5;

/// Three notes a string, up and back: odd runs, so that all kinds of change occur.
pub(crate) const THREE_PER_STRING: &str = "\
6:3 6:5 6:7 5:3 5:5 5:7 4:4 4:5 4:7 3:4 3:5 3:7 2:5 2:7 2:8 1:5 1:7 1:8
1:7 1:5 2:8 2:7 2:5 3:7 3:5 3:4 4:7 4:5 4:4 5:7 5:5 5:3 6:7 6:5";

/// A drill of sixteenths in standard tuning.
pub(crate) fn drill(line: &str, tempo: f64, repeats: u32) -> Drill {
    let text = format!(
        "name = \"Simulated\"\ntempo_bpm = {tempo}\nsteps_per_beat = 4\nbeats_per_bar = 4\nrepeats = {repeats}\n\
         tuning = \"E2 A2 D3 G3 B3 E4\"\npicking = \"alternate\"\nfirst_stroke = \"down\"\nline = \"\"\"\n{line}\n\"\"\"\n"
    );
    Drill::parse(&text, "simulated.toml").expect("the drill of a test is right")
}

/// Plays and scores.
pub(crate) fn scored(drill: &Drill, player: &Player) -> ScoreReport {
    scored_as_asked(drill, player, None)
}

/// The same, where a tempo was asked for by name.
pub(crate) fn scored_as_asked(drill: &Drill, player: &Player, asked: Option<Bpm>) -> ScoreReport {
    let grid = drill.grid();
    let performance = perform_grid(drill, &grid, player);
    let measured = measured(drill, &grid, &performance, player.seed);
    score(&Input {
        drill,
        grid: &grid,
        measured: &measured,
        take: TakeSection {
            path: format!("simulated-{}.wav", player.seed),
            sample_rate_hz: 48_000,
            channels: 1,
            channel_used: "the only one".into(),
            duration_s: performance.length.0,
        },
        recording: None,
        warnings: Vec::new(),
        first_stroke: drill.first_stroke,
        mode: Mode::Steady,
        asked_tempo: asked,
        after_slip: AfterSlip::Keep,
        latency: None,
        level_withheld: None,
        seed: player.seed,
        version: "0.0.0",
        with_waveform: false,
    })
}

fn measured(drill: &Drill, grid: &[GridNote], performance: &Performance, seed: u64) -> Measured {
    let mut rng = Seeded::stream(seed, 77);
    let mut passes = Vec::new();
    let mut notes = Vec::new();
    for played in performance.notes.chunk_by(|a, b| a.pass == b.pass) {
        let mut by_index: Vec<Option<&PlayedNote>> = vec![None; grid.len()];
        for n in played {
            by_index[n.index] = Some(n);
        }
        let times: Vec<Option<f64>> =
            by_index.iter().map(|n| (*n)?.played.map(|p| p.0 + 1e-3 * DETECTOR_MS * rng.normal())).collect();
        let (offset, stretch) = line(grid, &times);
        let place = |(g, (n, t)): (&GridNote, (&Option<&PlayedNote>, &Option<f64>))| Placed {
            index: g.index,
            status: n.map_or(Status::NotReached, |n| match n.status {
                takegauge_pluck::Status::Played => Status::Played,
                takegauge_pluck::Status::Missed => Status::Missed,
                takegauge_pluck::Status::WrongPitch => Status::WrongPitch,
            }),
            attack: t.map(|_| g.index),
            expected: Seconds(offset + stretch * g.expected.0),
            played: t.map(Seconds),
            uncertainty: t.map(|_| Millis(DETECTOR_MS)),
            heard: None,
        };
        let placed: Vec<Placed> = grid.iter().zip(by_index.iter().zip(&times)).map(place).collect();
        notes.push(
            by_index
                .iter()
                .map(|n| NoteMeasure {
                    level: n.and_then(|n| level(performance, n)),
                    before: None,
                    heard: None,
                    rise: None,
                    smear: n.and_then(|n| n.overlap).map(|o| Ok(Millis(o.0 + 3.0 * rng.normal()))),
                })
                .collect(),
        );
        let heard: Vec<f64> = times.iter().flatten().copied().collect();
        passes.push(Pass {
            offset: Seconds(offset),
            tempo: Bpm(drill.tempo.0 / stretch),
            from: Seconds(heard.first().copied().unwrap_or(offset)),
            to: Seconds(heard.last().copied().unwrap_or(offset)),
            notes: placed,
            anew: Vec::new(),
            click_beat: None,
        });
    }
    let extra: Vec<Extra> = performance.extras.iter().map(|x| extra(&passes, x.at)).collect();
    let measure = |(x, e): (&takegauge_pluck::ExtraNote, &Extra)| ExtraMeasure {
        extra: *e,
        played: x.at,
        level: Decibels(-20.0),
        heard: None,
    };
    let extras = performance.extras.iter().zip(&extra).map(measure).collect();
    Measured {
        alignment: Alignment {
            passes,
            extra,
            faint: Vec::new(),
            set_aside: Vec::new(),
            cents_off: 0.0,
            tempo_from: TempoFrom::Given,
            remarks: Vec::new(),
        },
        notes,
        extra: extras,
        strokes: Vec::new(),
        beginnings: Vec::new(),
        envelope: Envelope { step: Seconds(0.01), extremes: Vec::new() },
        detector_sd: Millis(DETECTOR_MS),
    }
}

/// The level that the pluck was made with, about -12 dBFS.
fn level(performance: &Performance, n: &PlayedNote) -> Option<Decibels> {
    let at = n.played?.0;
    // Events are in the order of attacks.
    let first = performance.events.partition_point(|e| e.at.0 < at);
    let event = performance.events.get(first..)?.iter().take_while(|e| e.at.0 == at).find(|e| e.string == n.string)?;
    Some(Decibels(event.touch.level.0 - 12.0))
}

fn extra(passes: &[Pass], at: Seconds) -> Extra {
    let pass = passes.iter().rposition(|p| p.from.0 <= at.0).unwrap_or(0);
    let before = |p: &&Placed| p.status != Status::NotReached && p.played.unwrap_or(p.expected).0 < at.0;
    let after_index = passes.get(pass).and_then(|p| p.notes.iter().filter(before).map(|p| p.index).next_back());
    Extra { attack: 0, after_index, pass }
}

/// Offset and stretch of the least-squares line through the notes heard.
fn line(grid: &[GridNote], times: &[Option<f64>]) -> (f64, f64) {
    let heard: Vec<(f64, f64)> = grid.iter().zip(times).filter_map(|(g, t)| Some((g.expected.0, (*t)?))).collect();
    let n = heard.len().max(1) as f64;
    let (mx, my) = (heard.iter().map(|h| h.0).sum::<f64>() / n, heard.iter().map(|h| h.1).sum::<f64>() / n);
    let sxx: f64 = heard.iter().map(|h| (h.0 - mx).powi(2)).sum();
    let sxy: f64 = heard.iter().map(|h| (h.0 - mx) * (h.1 - my)).sum();
    let stretch = if sxx > 0.0 { sxy / sxx } else { 1.0 };
    (my - stretch * mx, stretch)
}
