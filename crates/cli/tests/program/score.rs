//! `takegauge score` on committed takes.

use crate::common::{Place, answers, committed, fits, layout, score_committed};
use serde_json::Value;

const TAKES: [&str; 6] =
    ["late_inside", "mixed_errors", "smear_one_pair", "restarts", "driven_ticks_soft", "acoustic_room"];

#[test]
fn every_committed_take_gives_a_report_of_the_stated_shape() {
    let place = Place::new();
    for name in TAKES {
        let run = score_committed(&place, name, &["--json", "-"]).done();
        let report = run.json();
        fits(&report, "score-1.json");
        assert_eq!(report["timebase"]["mode"], "steady", "{name}");
        assert!(!run.out.contains("NaN") && !run.out.contains('\u{1b}'), "{name}");
    }
}

#[test]
fn the_text_report_is_laid_out_as_written_down() {
    let run = score_committed(&Place::new(), "late_inside", &[]).done();
    let text = layout(&run.out);
    // The first lines hold the take's path, whose length depends on where the tests run.
    let after_the_path = text.split_once("a second)\n").unwrap().1;
    insta::assert_snapshot!(after_the_path);
}

#[test]
fn late_inside_changes_are_found_as_late_as_they_were_put_in() {
    let report = score_committed(&Place::new(), "late_inside", &["--json", "-"]).done().json();
    let first = &report["findings"][0];
    assert_eq!((first["group"].as_str(), first["measure"].as_str()), (Some("inside"), Some("bias")), "{first}");
    let truth = true_lateness(&answers("late_inside"));
    let found = first["value"].as_f64().unwrap();
    assert!((found - truth).abs() < 1.5, "{found} ms found, {truth} ms in the answers");
}

/// Mean of the inside changes' deviations from the grid less that of all other notes, ms.
fn true_lateness(answers: &Value) -> f64 {
    let mut sums = [(0.0, 0.0); 2];
    for n in answers["notes"].as_array().unwrap() {
        let inside = usize::from(n["change"]["kind"] == "inside");
        sums[inside].0 += 1e3 * (n["played_s"].as_f64().unwrap() - n["grid_s"].as_f64().unwrap());
        sums[inside].1 += 1.0;
    }
    sums[1].0 / sums[1].1 - sums[0].0 / sums[0].1
}

#[test]
fn missed_extra_and_wrong_notes_are_found_where_they_were_put_in() {
    let report = score_committed(&Place::new(), "mixed_errors", &["--json", "-"]).done().json();
    let answers = answers("mixed_errors");
    let with = |of: &Value, status: &str| -> Vec<u64> {
        let notes = of["notes"].as_array().unwrap().iter();
        notes.filter(|n| n["status"] == status).map(|n| n["index"].as_u64().unwrap()).collect()
    };
    for status in ["missed", "wrong_pitch"] {
        assert_eq!(with(&report, status), with(&answers, status), "{status}");
    }
    let times = |of: &Value, list: &str, key: &str| -> Vec<f64> {
        of[list].as_array().unwrap().iter().map(|x| x[key].as_f64().unwrap()).collect()
    };
    let (found, wanted) = (times(&report, "extra", "played_s"), times(&answers, "extras", "at_s"));
    assert_eq!(found.len(), wanted.len(), "{found:?} {wanted:?}");
    assert!(found.iter().zip(&wanted).all(|(a, b)| (a - b).abs() < 0.01), "{found:?} {wanted:?}");
}

#[test]
fn restarts_are_passes_and_what_was_not_reached_is_not_missed() {
    let report = score_committed(&Place::new(), "restarts", &["--json", "-"]).done().json();
    let reached: Vec<u64> =
        report["passes"].as_array().unwrap().iter().map(|p| p["notes_reached"].as_u64().unwrap()).collect();
    assert_eq!(reached, [61, 40, 108]);
    assert_eq!(report["summary"]["missed"], 0);
}

#[test]
fn the_string_that_rings_over_is_found() {
    let report = score_committed(&Place::new(), "smear_one_pair", &["--json", "-"]).done().json();
    let smear = |pair: &str| {
        let row = report["groups"].as_array().unwrap().iter().find(|g| g["group"] == pair).unwrap();
        row["smear_ms"].as_f64().unwrap()
    };
    assert!((smear("3>2") - 85.0).abs() < 15.0 && smear("2>3") < 40.0, "{} {}", smear("3>2"), smear("2>3"));
}

#[test]
fn csv_has_units_in_its_heads_and_a_row_a_note() {
    let place = Place::new();
    score_committed(&place, "late_inside", &["--csv", "out"]).done();
    let notes = place.read("out-notes.csv");
    assert_eq!(notes.lines().count(), 1 + 108);
    assert!(notes.ends_with("\r\n"));
    let changes = place.read("out-changes.csv");
    let heads: Vec<&str> = [&notes, &changes].map(|t| t.lines().next().unwrap()).to_vec();
    insta::assert_snapshot!(heads.join("\n"));
}

#[test]
fn strokes_are_relabelled_when_the_take_began_on_an_upstroke() {
    let place = Place::new();
    let strokes = |more: &[&str]| {
        let report = score_committed(&place, "late_inside", &[&["--json", "-"], more].concat()).done().json();
        [0, 1].map(|i| report["notes"][i]["stroke"].as_str().unwrap().to_owned())
    };
    assert_eq!(strokes(&[]), ["down", "up"]);
    assert_eq!(strokes(&["--first-stroke", "up"]), ["up", "down"]);
}

#[test]
fn the_same_command_gives_the_same_bytes() {
    let place = Place::new();
    let once = || score_committed(&place, "acoustic_room", &["--json", "-"]).done().out;
    assert_eq!(once(), once());
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let place = Place::new();
    let (take, drill) = (committed("late_inside", "flac"), committed("late_inside", "toml"));
    let mut command = place.command(["score", &take, "--drill", &drill, "--json", "-"]);
    let mut child = command.stdout(std::process::Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

#[test]
fn a_take_played_to_a_click_has_the_clicks_grid() {
    let more = ["--click-start", "0.8", "--json", "-"];
    let report = score_committed(&Place::new(), "late_inside", &more).done().json();
    assert_eq!(report["timebase"]["mode"], "click");
    assert!((report["timebase"]["tempo_bpm"].as_f64().unwrap() - 170.0).abs() < 0.05, "{}", report["timebase"]);
    assert!((report["timebase"]["offset_s"].as_f64().unwrap() - 0.8).abs() < 1e-6);
    assert!(report["timebase"]["from_click_withheld"].is_string());
}
