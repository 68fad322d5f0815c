//! `takegauge drill`: texts as a player reads them, files in and out, and what is said of mistakes.

#![allow(clippy::unwrap_used, clippy::panic)] // tests

mod common;

use common::{err, out, takegauge};
use serde_json::Value;
use std::path::Path;
use std::process::Output;

const DRILL: &str = "name = \"Threes and a rest\"\ntempo_bpm = 120\nsteps_per_beat = 4\nbeats_per_bar = 4\nrepeats = 2\n\
    tuning = \"drop D\"\nline = \"6:5 6:7 6:9 5:5 5:7 4:5 4:7 - | 4:7> 4:5 5:7h 5:5 6:9 6:7 ~ -\"\n";

struct Desk(tempfile::TempDir);

impl Desk {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        std::fs::write(dir.path().join("d.toml"), DRILL).unwrap();
        Self(dir)
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path().join(name), text).unwrap();
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path().join(name)).unwrap()
    }

    fn run(&self, args: &[&str]) -> Output {
        let output = takegauge(self.path()).current_dir(self.path()).arg("drill").args(args).output().unwrap();
        assert!(!err(&output).contains("panicked"), "{}", err(&output));
        output
    }

    /// Standard output of a run that does its work; what it remarks on standard error stands above a line.
    #[track_caller]
    fn done(&self, args: &[&str]) -> String {
        let output = self.run(args);
        assert!(output.status.success(), "{args:?}: {}", err(&output));
        match err(&output) {
            said if said.is_empty() => out(&output),
            said => format!("{said}----\n{}", out(&output)),
        }
    }

    /// Standard error of a run that stops with code 2 and prints nothing.
    #[track_caller]
    fn stopped(&self, args: &[&str]) -> String {
        let output = self.run(args);
        assert!(output.status.code() == Some(2) && output.stdout.is_empty(), "{args:?}: {output:?}");
        err(&output)
    }
}

#[test]
fn a_drill_is_shown_with_strings_strokes_and_changes() {
    insta::assert_snapshot!(Desk::new().done(&["show", "d.toml"]));
}

#[test]
fn what_is_doubtful_is_said_before_recording() {
    let desk = Desk::new();
    insta::assert_snapshot!(desk.done(&["check", "d.toml"]));
    assert!(desk.done(&["check", "two-a-string-box"]).contains("Nothing doubtful"));
}

#[test]
fn the_built_in_drills_each_say_what_they_isolate() {
    let list = Desk::new().done(&["list"]);
    insta::assert_snapshot!(list);
    assert!(list.lines().count() > 24);
}

#[test]
fn the_grid_is_given_as_json() {
    let desk = Desk::new();
    let shown: Value = serde_json::from_str(&desk.done(&["show", "d.toml", "--json"])).unwrap();
    assert_eq!((&shown["schema"], &shown["repeats"]), (&Value::from("takegauge/drill/1"), &Value::from(2)));
    let notes = shown["notes"].as_array().unwrap();
    assert_eq!(notes.len(), 26);
    assert_eq!(
        (notes[13]["index"].as_u64(), notes[13]["repeat"].as_u64(), notes[13]["position"].as_u64()),
        (Some(13), Some(1), Some(0))
    );
    assert_eq!(notes[13]["expected_s"].as_f64(), Some(2.0));
    assert_eq!(notes[3]["change"]["kind"], "outside");
    assert!(notes[9]["stroke"].is_null() && notes[9]["sounding"] == "hammer_on");
    assert_eq!(notes[0]["midi"], serde_json::json!([43]));
}

#[test]
fn a_suggestion_is_a_drill_of_its_own() {
    let desk = Desk::new();
    let toml = desk.done(&["show", "three-a-string-six-strings", "--suggestion", "1"]);
    desk.write("s.toml", &toml);
    assert!(desk.done(&["show", "s.toml"]).contains("string"));
    assert!(
        desk.stopped(&["show", "one-string-sixteenths", "--suggestion", "9"]).contains("suggestions for this drill")
    );
    assert!(desk.done(&["show", "s.toml", "--toml"]).trim() == toml.trim());
}

#[test]
fn made_drills_are_aimed_and_say_what_is_not_counted() {
    let desk = Desk::new();
    insta::assert_snapshot!(desk.done(&["make", "A minor pentatonic", "--notes", "2", "--strings", "4-1"]));
    insta::assert_snapshot!(desk.done(&["make", "G major", "--only", "inside", "--strings", "4-2", "--repeats", "2"]));
    desk.done(&["make", "C major 7 chord", "--roll", "3", "-o", "roll.toml"]);
    assert!(desk.done(&["check", "roll.toml"]).contains("reads without error"));
}

#[test]
fn drills_are_altered() {
    let desk = Desk::new();
    let line = |args: &[&str]| {
        let toml = desk.done(args);
        toml.lines().skip_while(|l| !l.starts_with("line")).map(|l| format!("{l}\n")).collect::<String>()
    };
    assert!(desk.done(&["alter", "d.toml", "--start", "up"]).contains("first_stroke = \"up\""));
    assert!(line(&["alter", "d.toml", "--transpose", "-2"]).contains("6:3 6:5 6:7 5:3"));
    assert!(line(&["alter", "d.toml", "--shift-strings", "-1"]).contains("5:5 5:7 5:9"));
    assert!(line(&["alter", "d.toml", "--mirror"]).contains("1:5 1:7 1:9 2:5"));
    insta::assert_snapshot!(line(&["alter", "d.toml", "--take-out", "5-4"]));
}

#[test]
fn drills_go_out_and_come_back() {
    let desk = Desk::new();
    for file in ["d.musicxml", "d.mid", "d.txt", "copy.toml"] {
        desk.done(&["export", "d.toml", "-o", file]);
    }
    let notes = |file: &str, keys: &[&str]| {
        let shown: Value = serde_json::from_str(&desk.done(&["show", "--json", file])).unwrap();
        let note = |n: &Value| keys.iter().map(|k| n[*k].clone()).collect::<Vec<_>>();
        shown["notes"].as_array().unwrap().iter().map(note).collect::<Vec<_>>()
    };
    let all = ["expected_s", "string", "fret", "midi", "stroke", "change", "accent"];
    for file in ["d.musicxml", "d.txt", "copy.toml"] {
        desk.done(&["import", file, "-o", "back.toml", "--replace"]);
        assert_eq!(notes("back.toml", &all), notes("d.toml", &all), "{file}");
    }
    let said = desk.done(&["import", "d.mid", "--tuning", "drop D", "-o", "back.toml", "--replace"]);
    assert_eq!(notes("back.toml", &["expected_s", "midi"]), notes("d.toml", &["expected_s", "midi"]));
    assert!(said.contains("accents are lost"), "{said}");
    insta::assert_snapshot!(desk.read("d.txt"));
}

#[test]
fn tablature_of_another_hand_comes_in_with_what_was_taken_for_granted() {
    let desk = Desk::new();
    desk.write("theirs.txt", "   n V n V n V\ne|-------------|\nB|---------5-8-|\nG|-----5-7-----|\nD|-5-7---------|\nA|-------------|\nE|-------------|\n");
    insta::assert_snapshot!(desk.done(&["import", "theirs.txt", "--tempo", "96"]));
}

#[test]
fn mistakes_are_told_with_their_place() {
    let desk = Desk::new();
    desk.write("bad.toml", &DRILL.replace("5:5 5:7", "5:5 7:7"));
    desk.write("key.toml", &DRILL.replace("repeats", "repeat"));
    desk.write("bad.txt", "e|---5--|\nB|---x9-|\nG|--77---|\nD|-99----|\nA|------|\nE|-------|\n");
    desk.write("bad.xml", "<score-partwise><part>");
    let said: String = [
        &["check", "bad.toml"][..],
        &["check", "key.toml"],
        &["check", "nothing-like-it"],
        &["import", "bad.txt"],
        &["import", "bad.xml"],
        &["import", "d.toml", "--bars", "two"],
        &["export", "d.toml", "-o", "d.pdf"],
        &["make", "H major"],
        &["make", "A minor", "--change", "9-1"],
        &["make", "A minor", "--tuning", "no such"],
        &["alter", "d.toml", "--take-out", "1-2"],
        &["alter", "d.toml", "--transpose", "99"],
    ]
    .map(|args| format!("$ drill {}\n{}", args.join(" "), desk.stopped(args)))
    .concat();
    insta::assert_snapshot!(said);
}

#[test]
fn what_is_no_number_is_told_with_what_is_allowed() {
    let desk = Desk::new();
    let make = |option: &'static str, read: &'static str| desk.stopped(&["make", "A minor pentatonic", option, read]);
    for (option, too_much, allowed) in [
        ("--position", "25", "0 to 24"),
        ("--notes", "7", "1 to 6"),
        ("--sequence", "5", "3 or 4"),
        ("--skip", "3", "0 to 2"),
        ("--span", "8", "2 to 7"),
        ("--steps-per-beat", "13", "1 to 12"),
        ("--repeats", "1001", "1 to 1000"),
    ] {
        for none in ["x", "4294967296", "1.5"] {
            let told = make(option, none);
            assert!(told.contains(&format!("give a whole number, {allowed}")), "{option} {none}: {told}");
        }
        let told = make(option, too_much);
        assert!(told.contains(allowed) && !told.contains("digit"), "{option} {too_much}: {told}");
    }
    for option in ["--transpose", "--shift-strings", "--repeats"] {
        let told = desk.stopped(&["alter", "d.toml", option, "200000000000"]);
        assert!(told.contains("give a whole number, "), "{told}");
    }
}

#[test]
fn what_cannot_be_read_is_told_in_plain_words() {
    let desk = Desk::new();
    std::fs::create_dir(desk.path().join("folder")).unwrap();
    assert_eq!(
        desk.stopped(&["import", "nope.mid"]),
        "takegauge: nope.mid: no such file; check the name and the folder\n"
    );
    assert_eq!(desk.stopped(&["check", "folder"]), "takegauge: folder is a folder; name a file in it\n");
}
