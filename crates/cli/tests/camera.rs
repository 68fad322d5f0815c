//! `score --camera`: a film's place in the report, in the journal and beside the HTML, or the refusal.
#![allow(clippy::unwrap_used, reason = "test code")]

mod common;

use common::{Desk, audio, err, out, takegauge};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// test-audio/films/README.md
const OFFSET_S: f64 = 1.3;
const DRIFT_PPM: f64 = (44_100.0 / 44_102.0 - 1.0) * 1e6;

/// `score TAKE --drill late_inside.toml`, run from the desk's own folder.
fn command(desk: &Desk, take: &Path) -> Command {
    let mut run = takegauge(desk.dir.path());
    run.current_dir(desk.dir.path()).arg("score").arg(take).arg("--drill").arg(audio("late_inside.toml"));
    run
}

fn well(run: &mut Command) -> String {
    let done = run.output().unwrap();
    assert!(done.status.success(), "{}", err(&done));
    out(&done)
}

/// The report of the take beside a film.
fn score(desk: &Desk, take: &Path, film: &Path, more: &[&str]) -> Value {
    well(command(desk, take).arg("--camera").arg(film).args(["--json", "score.json"]).args(more));
    serde_json::from_str(&std::fs::read_to_string(desk.path("score.json")).unwrap()).unwrap()
}

#[test]
fn a_film_is_placed_by_its_sound_with_intervals_and_the_length_of_its_frames() {
    let desk = Desk::new();
    for (film, frame) in [("films/late_inside.webm", 1000.0 / 30.0), ("films/late_inside.mp4", 40.0)] {
        let camera = &score(&desk, &audio("late_inside.flac"), &audio(film), &[])["camera"];
        let number = |name: &str| camera[name].as_f64().unwrap();
        assert!((number("offset_s") - OFFSET_S).abs() < 0.001, "{camera}");
        assert!((number("drift_ppm") - DRIFT_PPM).abs() < 15.0, "{camera}");
        assert!(camera["offset_interval_s"][0].as_f64().unwrap() < number("offset_s"));
        assert!((number("frame_ms") - frame).abs() < 0.7, "{camera}");
        assert_eq!((camera["matched_by"].as_str(), camera["longest_frame_ms"].as_f64()), (Some("sound"), None));
        assert!(number("windows_agree") / number("windows") > 0.9, "{camera}");
    }
}

#[test]
fn the_report_leads_to_the_film_and_copies_nothing() {
    let desk = Desk::new();
    std::fs::create_dir(desk.path("films")).unwrap();
    std::fs::copy(audio("films/late_inside.webm"), desk.path("films/my clip.webm")).unwrap();
    let film = ["--camera", "films/my clip.webm", "--html", "report.html"];
    let said = well(command(&desk, &audio("late_inside.flac")).args(film));
    assert!(said.contains("The film") && said.contains("of the film (+-"), "{said}");
    let html = std::fs::read_to_string(desk.path("report.html")).unwrap();
    assert!(html.contains("\"src\":\"./films/my%20clip.webm\"") && html.contains("See its notes in the film"));
    assert!(html.len() < 400_000, "{}", html.len());
    assert!(html.contains("media-src blob: data: 'self' file:;"));
}

#[test]
fn the_films_own_sound_needs_no_laying_over() {
    let desk = Desk::new();
    let film = audio("films/late_inside.mp4");
    let report = score(&desk, &film, &film, &[]);
    let camera = &report["camera"];
    assert_eq!((camera["matched_by"].as_str(), camera["drift_ppm"].as_f64()), (Some("same_file"), Some(0.0)));
    // The sound's own time counts from its first sample, which is heard 0.379 s into the film.
    assert!((camera["offset_s"].as_f64().unwrap() - 0.378_646).abs() < 0.0011, "{camera}");
}

#[test]
fn a_film_of_another_take_and_a_film_without_a_picture_are_refused() {
    let desk = Desk::new();
    let refused = |take: &str, film: &str| {
        let done = command(&desk, &audio(take)).arg("--camera").arg(audio(film)).output().unwrap();
        (done.status.code(), err(&done))
    };
    let (code, said) = refused("smear_one_pair.flac", "films/late_inside.webm");
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("is not this playing") && said.contains("are needed"), "{said}");
    assert!(said.contains("leave out --camera"), "{said}");
    let (code, said) = refused("late_inside.flac", "formats/ticks-aac.m4a");
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("no picture"), "{said}");
    assert!(refused("late_inside.flac", "films/none.mp4").1.contains("none.mp4"));
}

#[test]
fn the_journal_keeps_the_films_whole_path() {
    let desk = Desk::new();
    let journal = desk.journal().display().to_string();
    std::fs::copy(audio("films/late_inside.webm"), desk.path("clip.webm")).unwrap();
    let more = ["--journal-file", &journal, "--player", "Ada"];
    let report = score(&desk, &audio("late_inside.flac"), Path::new("clip.webm"), &more);
    assert_eq!(report["camera"]["path"], "clip.webm", "as it was named");
    let text = desk.ok(&["show", "1", "--json", "-"]);
    let kept: Value = serde_json::from_str(&text).unwrap();
    let path = kept["camera"]["path"].as_str().or(kept["report"]["camera"]["path"].as_str()).unwrap();
    assert!(Path::new(path).is_absolute() && path.ends_with("clip.webm"), "{path}");
}

#[test]
fn a_take_that_is_scored_again_keeps_its_film() {
    let desk = Desk::new();
    let journal = desk.journal().display().to_string();
    std::fs::copy(audio("films/late_inside.webm"), desk.path("clip.webm")).unwrap();
    let more = ["--journal-file", &journal, "--player", "Ada"];
    let first = score(&desk, &audio("late_inside.flac"), Path::new("clip.webm"), &more);
    well(command(&desk, &audio("late_inside.flac")).args(more).args(["--seed", "2"]));
    let kept: Value = serde_json::from_str(&desk.ok(&["show", "1", "--json", "-"])).unwrap();
    let report = if kept["camera"].is_null() { &kept["report"] } else { &kept };
    assert_eq!(report["tool"]["seed"], 2, "the new score stands");
    assert_eq!(report["camera"]["offset_s"], first["camera"]["offset_s"]);
    assert!(report["camera"]["path"].as_str().unwrap().ends_with("clip.webm"));
}
