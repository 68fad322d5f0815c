//! What the first lines say of recordings that are not one steady time through the drill: from sound to sentence.
#![allow(clippy::unwrap_used, clippy::panic)] // tests

use takegauge_audio::{WavFormat, write_wav};
use takegauge_drill::Drill;
use takegauge_pluck::{Happens, Pass, Player, Sound, perform, render, scenes};
use takegauge_review::{Measure, ScoreReport};
use takegauge_take::{Request, score};
use takegauge_units::{Bpm, SampleRate, Seconds};

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
