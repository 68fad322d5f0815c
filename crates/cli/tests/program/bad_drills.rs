//! Drill files with a mistake: the error names the file, the place, what was read and what is allowed.

use crate::common::{Place, committed};

/// A drill whose fifth line is `line`, with `more` after it.
fn drill(line: &str, more: &str) -> String {
    format!(
        "name = \"t\"\ntempo_bpm = 120\nsteps_per_beat = 4\ntuning = \"E2 A2 D3 G3 B3 E4\"\nline = \"{line}\"\n{more}"
    )
}

#[track_caller]
fn refused(text: &str, says: &[&str]) {
    let place = Place::new();
    let name = place.file("my drill.toml", text);
    let (take, other) = (committed("late_inside", "flac"), place.path("out.json"));
    let run =
        place.run(["score", &take, "--drill", name, "--json", other.to_str().unwrap()]).stopped(2, "my drill.toml");
    let check = place.run(["drill", "check", name]).stopped(2, "my drill.toml");
    assert_eq!(run.err, check.err);
    assert!(says.iter().all(|s| run.err.contains(s)), "{says:?}: {}", run.err);
    assert_eq!(place.names(), ["my drill.toml"]);
}

#[test]
fn a_drill_without_notes() {
    refused(&drill("- - | -", ""), &["the line has no notes", "6:3"]);
}

#[test]
fn a_string_that_the_tuning_lacks() {
    refused(&drill("6:3 7:1", ""), &["line 5, column 13", "read string 7", "strings 1 to 6"]);
}

#[test]
fn fret_forty() {
    refused(&drill("6:3 6:40", ""), &["line 5, column 15", "read fret 40"]);
}

#[test]
fn a_negative_tempo() {
    let text = drill("6:3 6:5", "").replace("tempo_bpm = 120", "tempo_bpm = -120");
    refused(&text, &["line 2, column 13", "read tempo_bpm = -120", "from 20 to 400"]);
}

#[test]
fn ten_thousand_repeats() {
    refused(&drill("6:3 6:5", "repeats = 10000\n"), &["line 6", "read repeats = 10000", "1 to 1000"]);
}

#[test]
fn more_notes_than_are_scored() {
    let line = "6:3 6:5 ".repeat(4_000);
    refused(&drill(&line, "repeats = 1000\n"), &["8000000 notes", "Write fewer repeats"]);
}

#[test]
fn an_unknown_key() {
    refused(&drill("6:3 6:5", "tempo = 120\n"), &["line 6, column 1", "unknown key \"tempo\"", "tempo_bpm"]);
}

#[test]
fn a_drill_that_is_no_text() {
    let place = Place::new();
    let name = place.file("photo.toml", [0xff, 0xd8, 0xff, 0xe0, 0, 16]);
    place.run(["drill", "check", name]).stopped(2, "not a text file");
}

#[test]
fn a_drill_that_is_not_there() {
    let place = Place::new();
    place.run(["drill", "show", "no-such-drill"]).stopped(2, "`takegauge drill list` names the built-in drills");
    let take = committed("late_inside", "flac");
    place.run(["score", &take, "--drill", "no-such-drill"]).stopped(2, "no-such-drill: no such drill file");
    let typo = place.run(["score", &take, "--drill", "Inside pear"]);
    typo.stopped(2, "inside-pair is one; `takegauge drill list` names the built-in drills");
}

#[test]
fn a_drill_beside_the_take_is_used() {
    let place = Place::new();
    std::fs::copy(committed("late_inside", "flac"), place.path("take.flac")).unwrap();
    std::fs::copy(committed("late_inside", "toml"), place.path("drill.toml")).unwrap();
    let report = place.run(["score", "take.flac", "--json", "-"]).done().json();
    assert_eq!(report["drill"]["name"], "Threes across and back");
}
