//! Speed and size of the journal at 5,000 takes of 100 notes.
//!
//!     cargo run --release -p takegauge-journal --example journal_speed -- [JOURNAL]
//!
//! Prints one row a figure, as in reports/speed.md. Every added take is committed and synced. The journal is made at
//! JOURNAL and stays there, or in a folder that goes with the program.

use std::error::Error;
use std::time::Instant;
use takegauge_journal::{Filter, Journal, Picked, TakeRecord};
use takegauge_review::declared::{BIAS, EVENNESS, MARGIN, MARGIN_SE, SPREAD};
use takegauge_review::history::Metric;
use takegauge_review::{ScoreReport, Value};

const DRILL: &str = "name = 'Threes'\ntempo_bpm = 160\nsteps_per_beat = 4\nrepeats = 2\ntuning = 'standard'\n\
    picking = 'alternate'\nline = '6:1 6:2 6:3 5:1 5:2 5:3'\n";

/// A report of 100 notes whose figures are its own.
fn report(base: &ScoreReport, k: u64) -> ScoreReport {
    let mut report = base.clone();
    let mut state = k + 1;
    let mut random = |scale: f64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 40) as f64 / f64::from(1 << 24) * scale * 1000.0).round() / 1000.0
    };
    let notes = base.notes.clone();
    report.notes = (0..100)
        .map(|index| {
            let mut n = notes[index % notes.len()].clone();
            n.index = index;
            n.expected_s = index as f64 * 0.09375;
            n.played_s = Some(n.expected_s + random(0.02));
            n.deviation_ms = Some(random(20.0));
            n.local_deviation_ms = Some(random(20.0));
            n.uncertainty_ms = Some(random(2.0));
            n.level_db = Some(-random(20.0));
            n.smear_ms = n.change.is_some().then(|| random(60.0));
            n
        })
        .collect();
    for g in &mut report.groups {
        let bias = Value::number(Some(random(8.0))).within([Some(-random(4.0)), Some(random(12.0))]);
        let spread = Value::number(Some(random(8.0))).within([Some(random(4.0)), Some(8.0 + random(4.0))]);
        g.figures.set(&BIAS, bias);
        g.figures.set(&SPREAD, spread);
        for (figure, scale) in [(&EVENNESS, 12.0), (&MARGIN, 8.0), (&MARGIN_SE, 1.0)] {
            g.figures.set(figure, Value::number(Some(random(scale))));
        }
    }
    report
}

fn record(k: u64) -> Result<TakeRecord, Box<dyn Error>> {
    let at = 1_700_000_000_000 + k as i64 * 6 * 3_600_000;
    Ok(TakeRecord {
        player: "Ada".to_owned(),
        drill: DRILL.to_owned(),
        audio_sha256: format!("{k:064x}"),
        path: format!("/takes/2026/evening {k}.wav"),
        recorded_at: takegauge_journal::RecordedAt::new(at, 3600).ok_or("time")?,
        picked: Picked::All,
        guitar: "black one".to_owned(),
        microphone: "DI".to_owned(),
        tags: vec!["evening".to_owned()],
        note: String::new(),
    })
}

/// Median and slowest of nine calls.
fn timed(mut call: impl FnMut() -> Result<(), Box<dyn Error>>) -> Result<String, Box<dyn Error>> {
    let mut times = Vec::new();
    for _ in 0..9 {
        let start = Instant::now();
        call()?;
        times.push(start.elapsed().as_secs_f64() * 1e3);
    }
    times.sort_by(f64::total_cmp);
    Ok(format!("{:.1} ms, slowest {:.1} ms", times[4], times[8]))
}

fn main() -> Result<(), Box<dyn Error>> {
    let base: ScoreReport = serde_json::from_str(include_str!("../src/packing-1.json"))?;
    let dir = tempfile::tempdir()?;
    let path = std::env::args_os().nth(1).map_or_else(|| dir.path().join("journal.db"), std::path::PathBuf::from);
    let mut journal = Journal::open_or_create(&path)?;
    for k in 0..4500 {
        journal.add(&record(k)?, &report(&base, k))?;
    }
    let ready: Vec<ScoreReport> = (4500..5000).map(|k| report(&base, k)).collect();
    let start = Instant::now();
    for (k, report) in (4500..).zip(&ready) {
        journal.add(&record(k)?, report)?;
    }
    println!("| 500 scored takes added in one call, a take, synced | {:.2} ms |", start.elapsed().as_secs_f64() * 2.0);
    drop(journal);
    let opened = timed(|| {
        drop(Journal::open(&path)?);
        Ok(())
    })?;
    println!("| open | {opened} |");
    let journal = Journal::open(&path)?;
    let listed = timed(|| {
        assert_eq!(journal.list(&Filter::default())?.len(), 5000);
        Ok(())
    })?;
    println!("| list of 5,000 takes | {listed} |");
    let followed = timed(|| {
        let report = journal.trend(&Filter::default(), ("Ada", "Threes"), None, Some(Metric::SPREAD))?;
        assert_eq!((report.rows[0].takes, report.rows[0].days.len()), (5000, 1251));
        Ok(())
    })?;
    println!("| trend of all figures, 5,000 takes on 1,251 days | {followed} |");
    drop(journal);
    println!("| file of 5,000 takes of 100 notes | {:.1} MB |", std::fs::metadata(&path)?.len() as f64 / 1e6);
    Ok(())
}
