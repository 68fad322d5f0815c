//! A take's report as JAMS (Humphrey, Salamon, Nieto, Forsyth, Bittner & Bello 2014, "JAMS: a JSON annotated music
//! specification for reproducible MIR research", ISMIR): attacks as `onset`, notes as `note_midi`, and the deviations in
//! each note's sandbox.

use serde_json::{Value, json};
use takegauge_review::ScoreReport;

/// The annotations of one take, as JSON text. Observations without a time (not heard, not reached) are left out; how
/// many is said in the file's sandbox.
pub fn jams(report: &ScoreReport) -> String {
    let duration = report.take.duration_s;
    let heard: Vec<_> = report.notes.iter().filter_map(|n| Some((n, n.played_s?))).collect();
    let mut onsets: Vec<f64> = heard.iter().map(|(_, t)| *t).chain(report.extra.iter().map(|e| e.played_s)).collect();
    onsets.sort_by(f64::total_cmp);
    let onsets: Vec<Value> =
        onsets.iter().map(|t| json!({"time": t, "duration": 0.0, "value": null, "confidence": null})).collect();
    let notes: Vec<Value> = heard
        .iter()
        .enumerate()
        .map(|(i, (n, t))| {
            let next = heard.get(i + 1).map_or(duration, |(_, t)| *t);
            json!({"time": t, "duration": ((next - t).max(0.0) * 1e6).round() / 1e6,
                "value": n.heard_midi.unwrap_or(n.midi), "confidence": null})
        })
        .collect();
    let details: Vec<Value> = heard
        .iter()
        .map(|(n, _)| {
            json!({"index": n.index, "pass": n.pass, "status": n.status, "string": n.string, "fret": n.fret,
                "expected_s": n.expected_s, "deviation_ms": n.deviation_ms})
        })
        .collect();
    let annotation = |namespace: &str, data: Vec<Value>, sandbox: Value| {
        json!({"namespace": namespace, "data": data, "time": 0.0, "duration": duration, "sandbox": sandbox,
            "annotation_metadata": {"annotation_tools": format!("takegauge {}", report.tool.version),
                "curator": {"name": "", "email": ""}, "annotator": {}, "version": "", "corpus": "",
                "annotation_rules": "", "validation": "", "data_source": "program"}})
    };
    let file = json!({
        "file_metadata": {"title": report.drill.name, "artist": "", "release": "", "duration": duration,
            "identifiers": {"path": report.take.path}, "jams_version": "0.3.4"},
        "annotations": [
            annotation("onset", onsets, json!({})),
            annotation("note_midi", notes, json!({"notes": details})),
        ],
        "sandbox": {"notes_without_a_time": report.notes.len() - heard.len(), "tempo_bpm": report.timebase.tempo_bpm},
    });
    crate::json(&file)
}
