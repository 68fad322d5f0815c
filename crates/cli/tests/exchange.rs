//! Takes to a click and back to the DAW: markers, clicks on another channel, the set-up's delay, a ladder in one file.

#![allow(clippy::unwrap_used, clippy::panic)] // tests

mod common;

use common::{audio, err, out, takegauge};
use serde_json::Value;
use std::path::Path;
use std::process::Output;
use takegauge_click::{ClickOptions, ClickTrack, SilentBars, read_ladder_table};
use takegauge_drill::Drill;
use takegauge_pluck::{Player, Sound, perform, render};
use takegauge_units::{Bpm, Millis, SampleRate, Seconds};

const RATE: u32 = 44_100;
const DRILL: &str = "name = \"Twos\"\ntempo_bpm = 120\nsteps_per_beat = 4\nbeats_per_bar = 4\nrepeats = 8\n\
    tuning = \"standard\"\nline = \"4:5 4:7 3:5 3:7 2:5 2:8 3:5 3:7\"\n";

fn run(dir: &Path, args: &[&str]) -> Output {
    let output = takegauge(dir).current_dir(dir).args(args).output().unwrap();
    assert!(!err(&output).contains("panicked"), "{}", err(&output));
    output
}

#[track_caller]
fn done(dir: &Path, args: &[&str]) -> String {
    let output = run(dir, args);
    assert!(output.status.success(), "{args:?}: {}", err(&output));
    out(&output)
}

#[track_caller]
fn score(dir: &Path, args: &[&str]) -> Value {
    serde_json::from_str(&done(dir, &[&["score", "-q", "--json", "-"][..], args].concat())).unwrap()
}

#[track_caller]
fn stopped(dir: &Path, code: i32, says: &str, args: &[&str]) {
    let output = run(dir, args);
    assert!(output.status.code() == Some(code) && err(&output).contains(says), "{args:?}: {}", err(&output));
}

fn desk() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("drill.toml"), DRILL).unwrap();
    dir
}

fn wav(dir: &Path, name: &str, channels: &[&[f32]]) {
    let spec = hound::WavSpec {
        channels: channels.len() as u16,
        sample_rate: RATE,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = hound::WavWriter::create(dir.join(name), spec).unwrap();
    for n in 0..channels.iter().map(|c| c.len()).max().unwrap() {
        for c in channels {
            file.write_sample((c.get(n).unwrap_or(&0.0) * 32_767.0) as i16).unwrap();
        }
    }
    file.finalize().unwrap();
}

fn read(path: &Path) -> Vec<f64> {
    let mut file = hound::WavReader::open(path).unwrap();
    let full = f64::from(1u32 << (file.spec().bits_per_sample - 1));
    file.samples::<i32>().map(|s| f64::from(s.unwrap()) / full).collect()
}

/// The drill played to a click, every note `late` after it with a little scatter, and the click.
fn to_a_click(options: &ClickOptions, late: f64) -> (ClickTrack, Vec<f32>, Vec<f32>) {
    let drill = Drill::parse(DRILL, "drill.toml").unwrap();
    let track = ClickTrack::of(&drill, options).unwrap();
    let rate = SampleRate::new(RATE).unwrap();
    let mut played = vec![0f32; track.samples(rate) as usize + RATE as usize];
    for (seed, step) in (7..).zip(&track.steps) {
        let lead_in = step.notes_from + Seconds(late);
        let player = Player { seed, lead_in, spread: Millis(3.0), ..Player::default() };
        let drill = Drill { tempo: step.tempo, repeats: step.repeats, ..drill.clone() };
        let take = render(&perform(&drill, &player), &Sound::default());
        played.iter_mut().zip(&take.samples).for_each(|(p, s)| *p += s);
    }
    let mut click = vec![0f32; played.len()];
    track.fill(rate, 0, &mut click);
    (track, played, click)
}

#[test]
fn markers_stand_where_notes_belong_and_where_they_were_heard() {
    let dir = desk();
    let (take, drill) = (audio("mixed_errors.flac"), audio("mixed_errors.toml"));
    let [take, drill] = [&take, &drill].map(|p| p.to_str().unwrap());
    let report = score(dir.path(), &[take, "--drill", drill, "--markers", "marked.wav"]);
    done(dir.path(), &["score", "-q", take, "--drill", drill, "--markers", "marks.csv"]);
    done(dir.path(), &["score", "-q", take, "--drill", drill, "--markers", "marks.jams"]);

    let text = std::fs::read_to_string(dir.path().join("marks.csv")).unwrap();
    let mut rows: Vec<(f64, &str)> = text
        .lines()
        .skip(1)
        .map(|l| l.split_once(',').unwrap())
        .map(|(t, l)| (t.parse().unwrap(), l.trim_matches('"')))
        .collect();
    assert!(rows.windows(2).all(|w| w[0].0 <= w[1].0));
    let notes = report["notes"].as_array().unwrap();
    let with = |status: &str| notes.iter().filter(|n| n["status"] == status).count();
    let labels = |end: &str| rows.iter().filter(|r| r.1.ends_with(end)).count();
    assert!(with("missed") > 0 && report["extra"].as_array().is_some_and(|e| !e.is_empty()));
    assert_eq!(labels("not heard"), with("missed"));
    assert_eq!(labels("expected"), notes.iter().filter(|n| !n["played_s"].is_null()).count());
    assert_eq!(rows.iter().filter(|r| r.1.starts_with("extra")).count(), report["extra"].as_array().unwrap().len());
    let first = notes.iter().find(|n| n["index"] == 0).unwrap();
    assert!(rows.contains(&(first["expected_s"].as_f64().unwrap(), "note 1 expected")), "{text}");

    // The copy is the take's own sound, and Symphonia and hound read past the chunks behind it.
    let sound = read(&dir.path().join("marked.wav"));
    assert_eq!(
        sound.len() as f64 / f64::from(RATE),
        report["take"]["duration_s"].as_f64().map(|d| (d * f64::from(RATE)).round() / f64::from(RATE)).unwrap()
    );
    assert!(score(dir.path(), &["marked.wav", "--drill", drill])["notes"] == report["notes"]);
    let bytes = std::fs::read(dir.path().join("marked.wav")).unwrap();
    let find = |what: &[u8]| bytes.windows(what.len()).filter(|w| *w == what).count();
    rows.dedup();
    assert_eq!((find(b"cue "), find(b"LIST"), find(b"labl")), (1, 1, text.lines().count() - 1));
    let jams: Value = serde_json::from_str(&std::fs::read_to_string(dir.path().join("marks.jams")).unwrap()).unwrap();
    assert_eq!(jams["annotations"][0]["namespace"], "onset");
}

#[test]
fn markers_never_write_over_the_take_and_name_their_kinds() {
    let dir = desk();
    std::fs::copy(audio("late_inside.flac"), dir.path().join("take.wav")).unwrap();
    let before = std::fs::read(dir.path().join("take.wav")).unwrap();
    stopped(dir.path(), 2, "this is the take itself", &["score", "take.wav", "--markers", "take.wav"]);
    stopped(dir.path(), 2, ".wav, .csv or .jams", &["score", "take.wav", "--markers", "marks.mid"]);
    assert_eq!(std::fs::read(dir.path().join("take.wav")).unwrap(), before);
}

#[test]
fn a_click_on_the_other_channel_or_in_a_file_is_the_grid() {
    let dir = desk();
    let silent = Some(SilentBars { sounding: 1, silent: 1 });
    for options in [
        ClickOptions::default(),
        ClickOptions { count_in_bars: 2, clicks_per_beat: 2, ..ClickOptions::default() },
        ClickOptions { silent, ..ClickOptions::default() },
        ClickOptions { tempos: vec![Bpm(132.0)], ..ClickOptions::default() },
    ] {
        let (track, played, click) = to_a_click(&options, 0.018);
        wav(dir.path(), "stereo.wav", &[&played, &click]);
        wav(dir.path(), "mono.wav", &[&played]);
        wav(dir.path(), "click.wav", &[&click]);
        let starts = track.steps[0].notes_from.0.to_string();
        let tempo = track.steps[0].tempo.0.to_string();
        let by_time = ["mono.wav", "--tempo", &tempo, "--click-start", &starts];
        let ways =
            [&["stereo.wav", "--click-channel", "right"][..], &["mono.wav", "--click-file", "click.wav"], &by_time];
        for way in ways {
            let withheld = score(dir.path(), way);
            let base = &withheld["timebase"];
            assert!(base["mode"] == "click" && base["from_click_ms"].is_null(), "{way:?} {base}");
            let report = score(dir.path(), &[way, &["--delay", "18"]].concat());
            let base = &report["timebase"];
            let (off, offset) = (base["from_click_ms"].as_f64().unwrap(), base["offset_s"].as_f64().unwrap());
            assert!(off.abs() < 1.5, "{options:?} {way:?}: {base}");
            assert!((offset - track.steps[0].notes_from.0).abs() < 0.001, "{options:?} {way:?}: {base}");
            let warned = report["warnings"].to_string();
            assert!(!warned.contains("begins no bar"), "{options:?} {way:?}: {warned}");
            assert_eq!(report["summary"]["missed"], 0, "{options:?} {way:?}");
        }
    }
    wav(dir.path(), "silent.wav", &[&[0.0; 44_100]]);
    stopped(dir.path(), 2, "--click-channel or --click-file", &["score", "mono.wav", "--click-file", "silent.wav"]);
}

#[test]
fn a_delay_is_measured_kept_and_used_by_name() {
    let dir = desk();
    done(dir.path(), &["click", "drill.toml", "-o", "click.wav"]);
    let click: Vec<f32> = read(&dir.path().join("click.wav")).iter().map(|x| 0.3 * *x as f32).collect();
    let late = (0.01142 * f64::from(RATE)) as usize;
    let hiss = (0..click.len() + late).map(|n| 2e-4 * ((n * 7919 % 1000) as f32 / 500.0 - 1.0));
    let back: Vec<f32> = hiss.enumerate().map(|(n, h)| h + if n < late { 0.0 } else { click[n - late] }).collect();
    wav(dir.path(), "back.wav", &[&back]);
    let check =
        ["click", "drill.toml", "--loopback-check", "back.wav", "--device", "Stage box", "--delay-file", "delays.toml"];
    let said = done(dir.path(), &check);
    let kept = std::fs::read_to_string(dir.path().join("delays.toml")).unwrap();
    let ms: f64 = kept.lines().find_map(|l| l.strip_prefix("delay_ms = ")).unwrap().parse().unwrap();
    assert!((ms - 1e3 * late as f64 / f64::from(RATE)).abs() < 0.1, "{said} {kept}");

    let (track, played, _) = to_a_click(&ClickOptions::default(), 0.01142);
    wav(dir.path(), "take.wav", &[&played]);
    let starts = track.steps[0].notes_from.0.to_string();
    let named = |name: &'static str| {
        ["take.wav", "--click-start", &starts, "--delay-file", "delays.toml", "--delay", name].map(str::to_owned)
    };
    let words = named("Stage box");
    let report = score(dir.path(), &words.each_ref().map(String::as_str));
    assert!(report["timebase"]["from_click_ms"].as_f64().unwrap().abs() < 1.0, "{}", report["timebase"]);
    let words = named("Other box");
    stopped(dir.path(), 2, "known: Stage box", &[&["score"][..], &words.each_ref().map(String::as_str)].concat());
    stopped(dir.path(), 2, "--click-start", &["score", "take.wav", "--delay", "5"]);

    // Another recording than the click is no measurement, and what was kept stays.
    let other =
        ["click", "drill.toml", "--loopback-check", "take.wav", "--device", "Stage box", "--delay-file", "delays.toml"];
    stopped(dir.path(), 1, "clicks were found again", &other);
    assert_eq!(std::fs::read_to_string(dir.path().join("delays.toml")).unwrap(), kept);
}

#[test]
fn guide_tones_stand_under_the_click_at_their_times() {
    let dir = desk();
    let common = ["click", "drill.toml", "--tempo", "120,150", "--repeats", "2", "--rate", "48000", "--bits", "24"];
    done(dir.path(), &[&common[..], &["-o", "click.wav"]].concat());
    done(dir.path(), &[&common[..], &["-o", "guided.wav", "--guide", "--table", "steps.csv"]].concat());
    let (click, guided) = (read(&dir.path().join("click.wav")), read(&dir.path().join("guided.wav")));
    assert!(click.len() == guided.len() && guided.iter().all(|s| s.abs() < 1.0));
    let alone: Vec<f32> = guided.iter().zip(&click).map(|(g, c)| (g - c) as f32).collect();
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 48_000,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut file = hound::WavWriter::create(dir.path().join("alone.wav"), spec).unwrap();
    alone.iter().for_each(|s| file.write_sample(*s).unwrap());
    file.finalize().unwrap();
    let heard: Value = serde_json::from_str(&done(dir.path(), &["onsets", "alone.wav", "--json", "-"])).unwrap();
    let heard: Vec<f64> = heard["onsets"].as_array().unwrap().iter().map(|o| o["time_s"].as_f64().unwrap()).collect();
    let table = std::fs::read_to_string(dir.path().join("steps.csv")).unwrap();
    let steps = read_ladder_table(&table, "steps.csv").unwrap();
    let wanted: Vec<f64> =
        steps.iter().flat_map(|s| (0..16).map(|k| s.notes_from.0 + f64::from(k) * 15.0 / s.tempo.0)).collect();
    assert_eq!(heard.len(), wanted.len());
    let worst = heard.iter().zip(&wanted).map(|(h, w)| (h - w).abs()).fold(0.0, f64::max);
    // The blind ear may take the pick's touch on a sounding string, some milliseconds before, for the attack.
    assert!(worst < 0.008, "{worst}");
    stopped(dir.path(), 2, "drill export", &["click", "drill.toml", "-o", "c.mid", "--guide"]);
}

#[test]
fn one_long_recording_to_a_rising_click_is_a_ladder() {
    let dir = desk();
    let tempos = "100,120,145";
    done(
        dir.path(),
        &["click", "drill.toml", "-o", "click.wav", "--tempo", tempos, "--repeats", "6", "--table", "steps.csv"],
    );
    let options =
        ClickOptions { tempos: [100.0, 120.0, 145.0].map(Bpm).to_vec(), repeats: Some(6), ..ClickOptions::default() };
    let (track, played, _) = to_a_click(&options, 0.012);
    // The recorder ran 3.7 s before the click.
    let before = vec![0f32; (3.7 * f64::from(RATE)) as usize];
    wav(dir.path(), "long.wav", &[&[before, played].concat()]);
    let start = (3.7 + track.steps[0].notes_from.0).to_string();
    for more in [&[][..], &["--click-start", &start]] {
        let report = score(dir.path(), &[&["long.wav", "--ladder-file", "steps.csv"][..], more].concat());
        let takes = report["takes"].as_array().unwrap();
        assert_eq!(report["schema"], "takegauge/ladder/1");
        let found: Vec<f64> = takes.iter().map(|t| t["tempo_bpm"].as_f64().unwrap()).collect();
        assert!(
            found.len() == 3 && found.iter().zip([100.0, 120.0, 145.0]).all(|(f, t)| (f / t - 1.0).abs() < 0.003),
            "{found:?}"
        );
        for t in takes {
            assert!(t["notes"] == 48 && t["errors"] == 0, "{t}");
        }
    }
    let said = err(&run(dir.path(), &["score", "long.wav", "--ladder-file", "steps.csv"]));
    assert!(said.contains("the click track began at 3.71 s") && said.contains("of 144 notes"), "{said}");
    // Each step is kept as a take of its own, once.
    let keep = ["score", "long.wav", "--ladder-file", "steps.csv", "--journal-file", "j.db", "--player", "Ada"];
    for again in ["", " (it was there already)"] {
        let said = err(&run(dir.path(), &keep));
        for step in 1..=3 {
            let line = format!("long.wav, step {step}: take {step} of Ada{again}. ");
            assert!(said.contains(&line), "{line}\n{said}");
        }
    }
    let list = done(dir.path(), &["journal", "list", "--journal-file", "j.db", "--json", "-"]);
    let list: Value = serde_json::from_str(&list).unwrap();
    let kept = list["takes"].as_array().unwrap();
    let tempo = |k: usize| kept[k]["tempo_bpm"].as_f64().unwrap();
    let mut tempos: Vec<f64> = (0..kept.len()).map(tempo).collect();
    tempos.sort_by(f64::total_cmp);
    assert!(tempos.len() == 3 && tempos.iter().zip([100.0, 120.0, 145.0]).all(|(a, b)| (a / b - 1.0).abs() < 0.003));
    stopped(dir.path(), 2, "the header", &["score", "long.wav", "--ladder-file", "drill.toml"]);
    // A take of something else.
    wav(dir.path(), "other.wav", &[&to_a_click(&ClickOptions::default(), 0.0).2]);
    stopped(dir.path(), 1, "no place for the click track", &["score", "other.wav", "--ladder-file", "steps.csv"]);
}
