//! `takegauge onsets`.

use crate::common::{Place, answers, committed, fits, plucks};

#[test]
fn json_on_standard_output_is_json_alone_and_keeps_its_shape() {
    let place = Place::new();
    let run = place.run(["onsets", &committed("acoustic_room", "flac"), "--json", "-"]).done();
    let report = run.json();
    fits(&report, "onsets-1.json");
    assert_eq!(report["take"]["sample_rate_hz"], 48_000);
}

#[test]
fn the_attacks_of_a_committed_take_are_where_its_answers_are() {
    let report = Place::new().run(["onsets", &committed("late_inside", "flac"), "--json", "-"]).done().json();
    let heard: Vec<f64> = report["onsets"].as_array().unwrap().iter().map(|o| o["time_s"].as_f64().unwrap()).collect();
    let answers = answers("late_inside");
    let near = |t: f64| heard.iter().map(|h| (h - t).abs()).fold(f64::INFINITY, f64::min) < 0.008;
    let hits = answers["attacks_s"].as_array().unwrap().iter().filter(|t| near(t.as_f64().unwrap())).count();
    assert!(hits >= 106 && heard.len() <= 110, "{hits} of 108 attacks within 8 ms, {} heard", heard.len());
}

#[test]
fn text_has_one_line_an_attack_and_no_escape_codes() {
    let place = Place::new();
    let run = place.run(["onsets", place.wav("take.wav", &plucks(6))]).done();
    insta::assert_snapshot!(crate::common::layout(&run.out));
}

#[test]
fn json_goes_to_a_file_that_is_named() {
    let place = Place::new();
    let take = place.wav("take.wav", &plucks(6));
    let run = place.run(["onsets", take, "--json", "out.json"]).done();
    assert_eq!(run.out, "");
    let report: serde_json::Value = serde_json::from_str(&place.read("out.json")).unwrap();
    assert_eq!(report["onsets"].as_array().unwrap().len(), 6);
}

#[test]
fn silence_is_said_and_not_an_empty_list_alone() {
    let place = Place::new();
    let run = place.run(["onsets", place.wav("take.wav", &vec![0.0; 88_200]), "--json", "-"]).done();
    assert!(run.err.contains("no attack was heard"), "{}", run.err);
    fits(&run.json(), "onsets-1.json");
}
