//! Files and streams: whole or not at all, no escape codes into pipes, exit codes, help.

use crate::common::{Place, committed, score_committed};

#[test]
fn files_that_exist_survive_a_run_that_fails() {
    let place = Place::new();
    let keep = place.file("out.json", "precious");
    let take = place.wav("silence.wav", &vec![0.0; 88_200]);
    place.run(["score", take, "--drill", &committed("late_inside", "toml"), "--json", keep]).stopped(1, "no attack");
    assert_eq!(place.read("out.json"), "precious");
    assert_eq!(place.names(), ["out.json", "silence.wav"]);
}

#[test]
fn a_write_that_fails_leaves_nothing_behind() {
    let place = Place::new();
    std::fs::create_dir(place.path("taken")).unwrap();
    place.file("taken/inside.txt", "precious");
    score_committed(&place, "late_inside", &["--json", "taken"]).stopped(2, "cannot be written");
    score_committed(&place, "late_inside", &["--json", "nowhere/out.json"])
        .stopped(2, "the folder nowhere is not there");
    assert_eq!(place.names(), ["taken"]);
    assert_eq!(place.read("taken/inside.txt"), "precious");
}

#[test]
fn a_report_is_written_over_the_file_that_is_named_and_no_other() {
    let place = Place::new();
    place.file("out.json", "old");
    place.file("other.json", "precious");
    score_committed(&place, "late_inside", &["--json", "out.json", "--html", "out.html", "--quiet"]).done();
    assert!(place.read("out.json").starts_with('{') && place.read("out.html").starts_with("<!"));
    assert_eq!(place.read("other.json"), "precious");
    assert_eq!(place.names(), ["other.json", "out.html", "out.json"]);
}

#[test]
fn plots_are_written_in_the_kind_that_the_ending_says() {
    let place = Place::new();
    score_committed(&place, "late_inside", &["--plot", "p.svg"]).done();
    score_committed(&place, "late_inside", &["--plot", "p.png", "--plot-size", "800x500px"]).done();
    assert_eq!(place.names(), ["p-changes.png", "p-changes.svg", "p-take.png", "p-take.svg"]);
    assert!(place.read("p-take.svg").starts_with("<svg") && !place.read("p-take.svg").contains("href=\"http"));
    let png = std::fs::read(place.path("p-take.png")).unwrap();
    // PNG specification, 5.2 and 11.2.2: signature, then IHDR with width and height.
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    assert_eq!((&png[16..20], &png[20..24]), (&800_u32.to_be_bytes()[..], &500_u32.to_be_bytes()[..]));
    score_committed(&place, "late_inside", &["--plot", "p.pdf"]).stopped(2, "'p.pdf' for '--plot");
}

#[test]
fn piped_output_carries_no_escape_codes_whatever_the_environment_says() {
    let place = Place::new();
    let (take, drill) = (committed("late_inside", "flac"), committed("late_inside", "toml"));
    let words = ["score", &take, "--drill", &drill];
    let plain = place.command(words).output().unwrap();
    for (name, value) in [("NO_COLOR", "1"), ("TERM", "xterm-256color"), ("TERM", "dumb")] {
        let out = place.command(words).env(name, value).output().unwrap();
        assert_eq!(out.stdout, plain.stdout, "{name}={value}");
        assert!(!out.stdout.contains(&0x1b) && !out.stderr.contains(&0x1b), "{name}={value}");
    }
}

#[test]
fn every_line_of_text_fits_the_width_that_is_set() {
    let place = Place::new();
    // Names of their own: the path of a checkout may be a word longer than any line.
    for ending in ["flac", "toml"] {
        std::fs::copy(committed("late_inside", ending), place.path(&format!("take.{ending}"))).unwrap();
    }
    for width in [60, 100, 140] {
        let out = place
            .command(["score", "-v", "--drill", "take.toml", "take.flac"])
            .env("COLUMNS", width.to_string())
            .output();
        let text = String::from_utf8(out.unwrap().stdout).unwrap();
        assert!(text.lines().count() > 20, "{text}");
        let wide: Vec<&str> = text.lines().filter(|l| l.chars().count() > width).collect();
        assert_eq!(wide, [""; 0], "at {width} columns");
    }
}

#[test]
fn wrong_usage_is_two_and_help_is_none() {
    let place = Place::new();
    for words in [&["scoer"][..], &["score"], &["onsets", "a.wav", "--no-such"], &["score", "a.wav", "--tempo", "fast"]]
    {
        assert_eq!(place.run(words).code, Some(2), "{words:?}");
    }
    for words in [&["--help"][..], &["score", "--help"], &["--version"]] {
        assert!(!place.run(words).done().out.is_empty(), "{words:?}");
    }
}

#[test]
fn options_out_of_their_range_are_named() {
    let place = Place::new();
    score_committed(&place, "late_inside", &["--tempo=-3"]).stopped(2, "--tempo -3");
    score_committed(&place, "late_inside", &["--tempo=1000"]).stopped(2, "--tempo 1000");
    score_committed(&place, "late_inside", &["--tempo=NaN"]).stopped(2, "--tempo NaN");
    score_committed(&place, "late_inside", &["--click-start", "900"]).stopped(2, "the take ends at");
    // A negative number is a value, not an option.
    score_committed(&place, "late_inside", &["--tempo", "-3"]).stopped(2, "--tempo -3: a tempo is 20 to 400");
    score_committed(&place, "late_inside", &["--tempo", "fast"]).stopped(2, "this is no number");
    score_committed(&place, "late_inside", &["--csv", "-"]).stopped(2, "--csv -: two tables are written");
    score_committed(&place, "late_inside", &["--plot", "stem"]).stopped(2, "the name has no ending");
    place.run(["journal", "show", "x"]).stopped(2, "give a take's number");
}

const COMMANDS: [&str; 11] =
    ["demo", "drill", "click", "onsets", "score", "ladder", "session", "journal", "watch", "batch", "page"];

#[test]
fn completions_and_the_manual_page_name_every_command() {
    let place = Place::new();
    for shell in ["bash", "zsh", "fish", "powershell"] {
        let script = place.run(["completions", shell]).done().out;
        for name in COMMANDS.iter().chain(&["first-stroke"]) {
            assert!(script.contains(name), "{shell}: {name}");
        }
    }
    let manual = place.run(["manual"]).done().out;
    assert!(manual.contains(".TH takegauge") && manual.contains(".SH SYNOPSIS"));
    for name in COMMANDS {
        // roff writes a hyphen in a name as \-.
        assert!(manual.contains(&format!("takegauge\\-{name}")), "{name}: {manual}");
    }
}

/// The script works in a shell: what it offers for half a word.
#[cfg(unix)]
#[test]
fn bash_completes_commands_and_options() {
    let place = Place::new();
    let script = place.run(["completions", "bash"]).done().out;
    place.file("takegauge.bash", &script);
    let offered = |words: &str, half: &str, before: &str, at: usize| {
        let ask = format!(
            "source ./takegauge.bash; COMP_WORDS=({words}); COMP_CWORD={at}; _takegauge takegauge '{half}' '{before}'; \
             echo \"${{COMPREPLY[@]}}\""
        );
        let out = std::process::Command::new("bash").current_dir(place.path("")).args(["-c", &ask]).output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap().trim().to_owned()
    };
    assert_eq!(offered("takegauge sc", "sc", "takegauge", 1), "score");
    assert_eq!(offered("takegauge score --first", "--first", "score", 2), "--first-stroke");
    assert_eq!(offered("takegauge score --first-stroke", "", "--first-stroke", 3), "down up");
}
