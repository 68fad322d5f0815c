//! `takegauge ladder`.

use crate::common::{Place, committed, fits};
use serde_json::Value;

#[test]
fn two_tempos_of_one_drill_make_a_ladder() {
    let place = Place::new();
    let takes = ["ladder_140", "ladder_220"].map(|n| committed(n, "flac"));
    let drill = committed("ladder_140", "toml");
    let report = place.run(["ladder", &takes[0], &takes[1], "--drill", &drill, "--json", "-"]).done().json();
    fits(&report, "ladder-1.json");
    let tempos: Vec<f64> =
        report["takes"].as_array().unwrap().iter().map(|t| t["tempo_bpm"].as_f64().unwrap()).collect();
    assert!((tempos[0] - 140.0).abs() < 0.5 && (tempos[1] - 220.0).abs() < 0.7, "{tempos:?}");
    let spread = |at: usize| {
        let row: &Value = report["groups"].as_array().unwrap().iter().find(|g| g["group"] == "inside").unwrap();
        row["by_tempo"][at]["spread_ms"].as_f64().unwrap()
    };
    assert!(spread(1) > 1.5 * spread(0), "inside changes come apart above 170 bpm: {} {}", spread(0), spread(1));
}

#[test]
fn a_take_that_cannot_be_read_stops_the_ladder_by_name() {
    let (take, drill) = (committed("ladder_140", "flac"), committed("ladder_140", "toml"));
    let run = Place::new().run(["ladder", &take, "none.wav", "--drill", &drill, "--json", "-"]);
    run.stopped(2, "none.wav: no such file");
}

#[test]
fn without_takes_both_ways_to_name_them_are_told() {
    let place = Place::new();
    let none = place.run(["ladder"]).stopped(2, "which takes? None was named");
    assert!(none.err.contains("name the takes, in the order played, or with --list FILE"), "{}", none.err);
    place.run(["ladder", "--list", place.file("list.toml", "take = []")]).stopped(2, "there is no take in this list");
}

#[test]
fn a_recording_counts_once() {
    let (take, drill) = (committed("ladder_140", "flac"), committed("ladder_140", "toml"));
    let run = Place::new().run(["ladder", &take, &take, "--drill", &drill]);
    run.stopped(2, "is named twice");
}
