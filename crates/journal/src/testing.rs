//! Takes for the tests of this crate.

use crate::model::{Picked, TakeRecord};
use sha2::{Digest, Sha256};
use takegauge_review::ScoreReport;

pub(crate) const DRILL: &str = "name = 'Threes'\ntempo_bpm = 160\nsteps_per_beat = 4\nrepeats = 2\n\
    tuning = 'standard'\npicking = 'alternate'\nline = '6:1 6:2 6:3 5:1 5:2 5:3'\n";

/// A report of our own demo: also what a report of the first version looks like, which later ones must still read.
pub(crate) fn report() -> ScoreReport {
    serde_json::from_str(include_str!("packing-1.json")).unwrap()
}

/// Take number `k`, of a file of its own, on day `k` of 2026.
pub(crate) fn take(k: u32) -> (TakeRecord, ScoreReport) {
    let mut report = report();
    report.summary.spread_ms.value = Some(4.0 + f64::from(k % 10) / 10.0);
    // A hundred notes, each its own, so that a report is as large as a true one.
    let notes = report.notes.clone();
    let mut state = u64::from(k) + 1;
    report.notes = (0..100)
        .map(|index| {
            let mut note = notes[index % notes.len()].clone();
            let mut random = |scale: f64| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                ((state >> 40) as f64 / f64::from(1 << 24) * scale * 1000.0).round() / 1000.0
            };
            note.index = index;
            note.played_s = Some(index as f64 / 8.0 + random(0.01));
            note.deviation_ms = Some(random(20.0));
            note.local_deviation_ms = Some(random(20.0));
            note.uncertainty_ms = Some(random(2.0));
            note.level_db = Some(-random(20.0));
            note
        })
        .collect();
    report.timebase.tempo_bpm = 160.0 + f64::from(k % 3) * 0.1;
    let digest = Sha256::digest(k.to_le_bytes());
    let at = format!("2026-{:02}-{:02}T18:20:{:02}+01:00", 1 + k / 28 % 12, 1 + k % 28, k % 60);
    let record = TakeRecord {
        player: "Ada".to_owned(),
        drill: DRILL.to_owned(),
        audio_sha256: digest.iter().map(|b| format!("{b:02x}")).collect(),
        path: format!("takes/take {k}.wav"),
        recorded_at: at.parse().unwrap(),
        picked: if k.is_multiple_of(4) { Picked::Best } else { Picked::All },
        guitar: "black one".to_owned(),
        microphone: String::new(),
        tags: vec!["evening".to_owned(), format!("set {}", k % 2)],
        note: "said \"go\",\nthen played; 5 ° cold".to_owned(),
    };
    (record, report)
}
