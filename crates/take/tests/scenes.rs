//! What the first lines say of recordings that are not one steady time through the drill: from sound to sentence.
#![allow(clippy::unwrap_used, clippy::panic)] // tests

use takegauge_audio::{WavFormat, write_wav};
use takegauge_drill::{ChangeKind, Drill};
use takegauge_pluck::{Happens, Knocks, Pass, Performance, Player, Sound, Speech, perform, render, scenes};
use takegauge_review::{GroupKey, Measure, ScoreReport};
use takegauge_take::{Request, score};
use takegauge_units::{Bpm, Decibels, Hertz, SampleRate, Seconds};

/// Three notes a string, 36 a time, at 160 bpm.
fn threes() -> Drill {
    scenes::by_name("clean_fast").map(|s| Drill { tempo: Bpm(160.0), repeats: 3, ..s.drill }).unwrap()
}

fn of_samples(rate: SampleRate, samples: &[f32], drill: &Drill) -> ScoreReport {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("take.wav");
    write_wav(&file, rate, 1, WavFormat::Float32, samples).unwrap();
    score(&Request::new(&file, drill), &()).unwrap()
}

fn scored(drill: &Drill, player: &Player) -> ScoreReport {
    let rendered = render(&perform(drill, player), &Sound::default());
    of_samples(rendered.rate, &rendered.samples, drill)
}

fn headline(report: &ScoreReport) -> String {
    report.summary.headline.join(" ")
}

#[track_caller]
fn says(report: &ScoreReport, words: &[&str]) {
    let told = headline(report);
    for w in words {
        assert!(told.contains(w), "{w:?} is not in: {told}");
    }
}

#[test]
fn a_false_start_is_set_aside_and_only_what_was_kept_is_counted() {
    let drill = threes();
    for broken_off in [9, 25] {
        let start = Pass { notes: broken_off, ..Pass::WHOLE };
        let again = Pass { pause: Seconds(1.4), ..Pass::WHOLE };
        let r = scored(&drill, &Player { passes: vec![start, again], ..Player::default() });
        says(&r, &["108 of 108 notes heard at 160", "Set aside and counted in no figure: "]);
        assert_eq!((r.passes.len(), r.summary.notes_reached), (1, 108), "{broken_off}");
    }
}

#[test]
fn a_take_in_rising_steps_without_its_table_says_so() {
    let drill = threes();
    let mut samples: Vec<f32> = Vec::new();
    let mut rate = None;
    for (k, tempo) in [120.0, 140.0, 160.0, 180.0, 200.0].into_iter().enumerate() {
        let step = Drill { tempo: Bpm(tempo), ..drill.clone() };
        let rendered = render(&perform(&step, &Player { seed: 40 + k as u64, ..Player::default() }), &Sound::default());
        samples.extend(&rendered.samples);
        rate = Some(rendered.rate);
    }
    let r = of_samples(rate.unwrap(), &samples, &Drill { tempo: Bpm(120.0), ..drill });
    says(&r, &["notes heard at 120 to 200 bpm", "rises in steps, from 120 to 200 bpm", "--ladder-file"]);
}

#[test]
fn a_steady_rise_is_told_with_its_ends() {
    let drill = Drill { repeats: 6, ..threes() };
    let r = scored(&drill, &Player { tempo_change: 0.086, ..Player::default() });
    let rise = r.findings.iter().find(|f| f.measure == Measure::TempoChange).unwrap();
    assert!((7.6..9.6).contains(&rise.value), "{rise:?}");
    says(&r, &[" to 1", "The tempo rises along the recording"]);
    // Over half as fast again at the end.
    let r = scored(&drill, &Player { tempo_change: 0.5, ..Player::default() });
    says(&r, &["The tempo rises along the recording"]);
}

#[test]
fn playing_on_past_the_repeats_is_told_as_that() {
    let drill = threes();
    let on = Pass { notes: 20, ..Pass::WHOLE };
    let r = scored(&drill, &Player { passes: vec![Pass::WHOLE, on], ..Player::default() });
    says(&r, &["played on past the drill's 3 repeats", "20 notes more"]);
    assert_eq!(r.summary.notes_reached, 128, "{}", headline(&r));
}

#[test]
fn notes_not_as_written_are_told_even_where_no_kind_stands_out() {
    let player = Player {
        missed: Happens::At(vec![20, 75]),
        wrong: Happens::At(vec![44, 91]),
        extra: Happens::At(vec![31, 60]),
        ..Player::default()
    };
    let r = scored(&threes(), &player);
    says(&r, &["106 of 108 notes heard", "2 not heard, 2 at another pitch, 2 extra"]);
    assert_eq!(r.reliability.errors, 6, "{}", r.reliability.text);
}

/// Inside changes 14 ms late, by a player who does `more`, in this sound; and what was played.
fn late_inside(more: Player, sound: &Sound) -> (Performance, ScoreReport) {
    let scene = scenes::by_name("late_inside").unwrap();
    let played = perform(&scene.drill, &Player { biases: scene.player.biases, ..more });
    let rendered = render(&played, sound);
    let report = of_samples(rendered.rate, &rendered.samples, &scene.drill);
    (played, report)
}

/// So far under the notes, by this voice.
fn speech(level: f64, pitch: f64, seed: u64) -> Option<Speech> {
    Some(Speech { level: Decibels(level), pitch: Hertz(pitch), seed })
}

#[track_caller]
fn names_the_inside_changes(r: &ScoreReport) {
    says(r, &["108 of 108 notes heard at 1"]);
    let first = r.findings.first().map(|f| (f.group, f.measure));
    assert_eq!(first, Some((GroupKey::Kind(ChangeKind::Inside), Measure::Bias)), "{}", headline(r));
}

#[test]
fn talk_over_the_playing_is_set_aside_and_the_finding_is_the_same() {
    for (level, pitch, seed) in [(-18.0, 110.0, 31), (-12.0, 200.0, 32), (-10.0, 130.0, 33)] {
        let sound = Sound { speech: speech(level, pitch, seed), ..Sound::default() };
        let (_, r) = late_inside(Player { seed: 600 + seed, ..Player::default() }, &sound);
        names_the_inside_changes(&r);
        says(&r, &["Set aside and counted in no figure: ", " sounds that are no string's between "]);
        assert_eq!(r.summary.extra, 0, "{level} dB: {}", headline(&r));
    }
}

#[test]
fn knocks_over_the_playing_are_set_aside() {
    let knocks = Some(Knocks { level: Decibels(-8.0), apart: Seconds(1.1), seed: 7 });
    let (_, r) = late_inside(Player { seed: 640, ..Player::default() }, &Sound { knocks, ..Sound::default() });
    names_the_inside_changes(&r);
    assert_eq!(r.summary.extra, 0, "{}", headline(&r));
}

#[test]
fn notes_too_many_are_told_though_somebody_talks() {
    let extra = Happens::At(vec![10, 31, 52, 77, 95]);
    let (mut planted, mut told, mut of_talk) = (0, 0, 0);
    for (level, seed) in [(-14.0, 41), (-18.0, 44)] {
        let player = Player { seed: 600 + seed, extra: extra.clone(), ..Player::default() };
        let sound = Sound { speech: speech(level, 120.0, seed), ..Sound::default() };
        let (played, r) = late_inside(player, &sound);
        names_the_inside_changes(&r);
        says(&r, &[" no string's "]);
        let near = |at: f64| r.extra.iter().any(|e| (e.played_s - at).abs() < 0.01);
        let right = played.extras.iter().filter(|x| near(x.at.0)).count();
        (planted, told, of_talk) = (planted + played.extras.len(), told + right, of_talk + r.extra.len() - right);
    }
    // One may be lost under the talk, and one sound of talk pass for a note.
    assert!(planted == 10 && told >= 9 && of_talk <= 1, "{told} of {planted} told, {of_talk} that are talk");
}
