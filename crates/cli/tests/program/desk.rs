//! Small things that a teacher reaches for every day: three lines, silence, manual pages, the settings, drills renamed.

use crate::common::{Place, committed, score_committed};

#[test]
fn a_brief_answer_is_three_lines() {
    let place = Place::new();
    let run = score_committed(&place, "late_inside", &["--brief"]).done();
    let lines: Vec<&str> = run.out.lines().collect();
    assert_eq!(lines.len(), 3, "{}", run.out);
    assert!(lines[0].starts_with("What: ") && lines[0].contains("late"), "{}", lines[0]);
    assert!(lines[1].starts_with("How sure: ") && lines[1].contains("95 %"), "{}", lines[1]);
    assert!(lines[2].starts_with("Next: ") && lines[2].contains(" bpm"), "{}", lines[2]);
    let full = score_committed(&place, "late_inside", &[]).done().out;
    assert!(full.lines().count() > 30);
    score_committed(&place, "late_inside", &["--brief", "--verbose"]).stopped(2, "cannot be used with");
}

#[test]
fn a_page_for_a_student_holds_name_line_and_loops() {
    let place = Place::new();
    score_committed(&place, "late_inside", &["--student-page", "ada.html", "--player", "Ada", "-q"]).done();
    let page = place.read("ada.html");
    for part in ["Ada, 20", "class=\"tab-line\"", "Inside changes come 15.0 ms late", "class=\"ticks\"", "Stop at pain"]
    {
        assert!(page.contains(part), "{part}");
    }
    assert!(!page.contains("<script") && !page.contains("http://") && !page.contains("https://"));
}

#[test]
fn quiet_says_nothing_beside_the_result() {
    let place = Place::new();
    place.file("out.json", "old");
    let aloud = score_committed(&place, "mixed_errors", &["--json", "out.json"]).done();
    assert!(aloud.err.contains("out.json was there and is replaced"), "{}", aloud.err);
    let quiet = score_committed(&place, "mixed_errors", &["--json", "out.json", "-q"]).done();
    assert_eq!((quiet.err.as_str(), quiet.out), ("", aloud.out));
    let made = ["drill", "make", "A minor", "--notes", "3", "--strings", "3-2", "--only", "inside"];
    assert_eq!(place.run(made.into_iter().chain(["-q"])).done().err, "");
}

#[test]
fn settings_are_shown_with_where_they_come_from() {
    let place = Place::new();
    let none = place.run(["config"]).done().out;
    assert!(none.contains("Settings: none") && none.contains("journal.db") && none.contains("E2 A2 D3"), "{none}");
    place.file("mine.toml", "player = 'Ada'\njournal = 'j.db'\n");
    let set = place.run(["config", "--config", "mine.toml"]).done().out;
    let row = |name: &str| set.lines().find(|l| l.starts_with(name)).unwrap_or_default().to_owned();
    assert!(row("player").contains("Ada") && row("player").contains("mine.toml"), "{set}");
    assert!(row("journal").contains("j.db") && row("tuning").contains("the program"), "{set}");
    place.run(["config", "--config", "no.toml"]).stopped(2, "the settings: no.toml: no such file");
}

#[test]
fn every_command_has_a_page_of_the_manual() {
    let place = Place::new();
    let help = place.run(["--help"]).done().out;
    assert!(help.contains("  manual ") && help.contains("  completions ") && help.contains("  config "), "{help}");
    let page = place.run(["manual", "drill", "make"]).done().out;
    assert!(page.contains(".TH takegauge-drill-make 1") && page.contains("\\-\\-strings"), "{page}");
    place.run(["manual", "drill", "mend"]).stopped(2, "takegauge drill has no command \"mend\"");
    place.run(["manual", "--folder", "pages"]).done();
    let mut names: Vec<String> = std::fs::read_dir(place.path("pages"))
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    for name in ["takegauge.1", "takegauge-score.1", "takegauge-journal-trend.1", "takegauge-drill-import.1"] {
        assert!(names.iter().any(|n| n == name), "{name} in {names:?}");
    }
    assert!(names.len() > 30 && names.iter().all(|n| !n.contains("help")), "{names:?}");
}

#[test]
fn drills_are_altered_and_brought_in_under_another_name_tempo_and_number_of_repeats() {
    let place = Place::new();
    let drill = committed("late_inside", "toml");
    let asked = ["--name", "Monday", "--tempo", "92.5", "--repeats", "3"];
    let has = |text: &str| {
        for line in ["name = \"Monday\"", "tempo_bpm = 92.5", "repeats = 3"] {
            assert!(text.contains(line), "{line} in {text}");
        }
    };
    has(&place.run(["drill", "alter", &drill].into_iter().chain(asked)).done().out);
    has(&place.run(["drill", "alter", &drill, "--mirror"].into_iter().chain(asked)).done().out);
    place.run(["drill", "export", &drill, "-o", "line.musicxml"]).done();
    has(&place.run(["drill", "import", "line.musicxml"].into_iter().chain(asked)).done().out);
    place.run(["drill", "alter", &drill]).stopped(2, "--repeats");
    place.run(["drill", "alter", &drill, "--tempo", "5000"]).stopped(2, "tempo_bpm");
    place.run(["drill", "alter", &drill, "--mirror", "--transpose", "2"]).stopped(2, "cannot be used with");
}

#[test]
fn a_roll_is_asked_for_by_number_or_by_strings() {
    let place = Place::new();
    let make = |words: &[&str]| place.run(["drill", "make", "C major"].iter().chain(words));
    let by_strings = make(&["--roll", "4-1"]).done().out;
    assert_eq!(by_strings, make(&["--roll", "4", "--strings", "4-1"]).done().out);
    assert_eq!(by_strings, make(&["--roll", "4-1", "--strings", "4-1"]).done().out);
    make(&["--roll", "4-1", "--strings", "6-3"]).stopped(2, "name different strings");
    make(&["--roll", "6-1"]).stopped(2, "3 to 5 strings");
    make(&["--roll", "many"]).stopped(2, "as 4, or which, as 4-1");
}
