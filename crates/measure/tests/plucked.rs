//! The second look at takes of the string model, whose answers are exact. The alignment is made from the answers, with
//! each attack some milliseconds off, so that only the second look is on trial here.
#![allow(clippy::unwrap_used, clippy::panic)]

use proptest::prelude::*;
use takegauge_align::{Alignment, Pass, Placed, Status, TempoFrom};
use takegauge_measure::{Measured, SecondLook};
use takegauge_pluck::scenes::{self, Scene};
use takegauge_pluck::{PlayedNote, Status as Sounded};
use takegauge_units::{Bpm, Decibels, Millis, SampleRate, Seconds};

/// Off by up to 3 ms, in no order.
fn off(index: usize) -> f64 {
    1e-3 * (((index * 37 + 11) % 61) as f64 / 10.0 - 3.0)
}

fn placed(note: &PlayedNote) -> Placed {
    let played = note.played.map(|p| Seconds((p.0 + off(note.index)).max(0.0)));
    Placed {
        index: note.index,
        status: if played.is_some() { Status::Played } else { Status::Missed },
        attack: played.map(|_| 0),
        expected: note.grid,
        played,
        uncertainty: played.map(|_| Millis(1.5)),
        heard: None,
    }
}

fn alignment(notes: Vec<Placed>) -> Alignment {
    let pass = Pass {
        offset: Seconds(0.0),
        tempo: Bpm(120.0),
        from: Seconds(0.0),
        to: Seconds(0.0),
        notes,
        anew: Vec::new(),
        click_beat: None,
    };
    Alignment {
        passes: vec![pass],
        extra: Vec::new(),
        faint: Vec::new(),
        set_aside: Vec::new(),
        cents_off: 0.0,
        tempo_from: TempoFrom::Drill,
        remarks: Vec::new(),
    }
}

fn look(scene: &Scene, notes: Vec<Placed>, samples: &[f32], rate: SampleRate, block: usize) -> Measured {
    let grid = scene.drill.grid();
    let mut look = SecondLook::new(rate, &grid, &scene.drill, alignment(notes), &[]);
    samples.chunks(block).for_each(|b| look.push(b));
    look.finish()
}

/// The scene's answers and what the second look makes of it.
fn measured(name: &str) -> (Vec<PlayedNote>, Measured) {
    let scene = scenes::by_name(name).unwrap();
    let (performance, rendered) = scene.render();
    let notes: Vec<PlayedNote> = performance.notes.into_iter().filter(|n| n.pass == 0).collect();
    let measured = look(&scene, notes.iter().map(placed).collect(), &rendered.samples, rendered.rate, 4_096);
    (notes, measured)
}

fn median(mut x: Vec<f64>) -> f64 {
    x.sort_by(f64::total_cmp);
    x[x.len() / 2]
}

/// The pick's touch stills the string some milliseconds before its release; what counts is the release.
#[test]
fn attacks_move_to_where_the_string_was_let_go() {
    for name in ["clean_fast", "clean_slow", "roll"] {
        let (notes, measured) = measured(name);
        let placed = &measured.alignment.passes[0].notes;
        let pairs = notes.iter().zip(placed);
        let errors: Vec<f64> = pairs.filter_map(|(n, p)| Some(1e3 * (p.played?.0 - n.played?.0))).collect();
        assert!(errors.len() > 50, "{name}");
        let middle = median(errors.clone());
        let off = median(errors.iter().map(|e| (e - middle).abs()).collect());
        let far = errors.iter().filter(|e| e.abs() > 1.0).count();
        assert!(middle.abs() < 0.3 && off < 0.1, "{name}: {middle} ms, scatter {off} ms");
        assert!(far * 20 <= errors.len(), "{name}: {far} of {} off by 1 ms", errors.len());
    }
}

#[test]
fn a_pair_that_rings_longer_stands_out() {
    let (notes, measured) = measured("smear_one_pair");
    let values: Vec<(f64, f64)> = notes
        .iter()
        .zip(&measured.notes[0])
        .filter_map(|(n, m)| Some((n.overlap?.0, m.smear.as_ref()?.as_ref().ok()?.0)))
        .collect();
    let changes = notes.iter().filter(|n| n.overlap.is_some()).count();
    assert!(values.len() * 10 >= changes * 6, "{} of {changes}", values.len());
    let (longest, shortest) = values.iter().fold((0.0f64, f64::INFINITY), |r, v| (r.0.max(v.0), r.1.min(v.0)));
    assert!(longest > shortest + 40.0);
    let near = |t: f64| median(values.iter().filter(|v| (v.0 - t).abs() < 5.0).map(|v| v.1).collect());
    assert!((near(longest) - longest).abs() < 15.0, "{} for {longest}", near(longest));
    assert!((near(shortest) - shortest.max(33.0)).abs() < 10.0, "{} for {shortest}", near(shortest));
}

/// Much softer notes on a string that sounded loudly: the sound gets softer there, but its pitch changes.
#[test]
fn soft_notes_that_nobody_heard_are_found_by_their_pitch_and_missed_ones_are_not() {
    let scene = scenes::by_name("clean_fast").unwrap();
    let mut performance = scene.perform();
    let grid = scene.drill.grid();
    let notes: Vec<PlayedNote> = performance.notes.iter().filter(|n| n.pass == 0).cloned().collect();
    let after_the_same_string = |n: &PlayedNote| n.index > 0 && grid[n.index].string() == grid[n.index - 1].string();
    let soft: Vec<&PlayedNote> = notes.iter().filter(|n| n.index % 7 == 4 && after_the_same_string(n)).collect();
    for n in &soft {
        let event = performance.events.iter_mut().find(|e| Some(e.at) == n.played).unwrap();
        event.touch.level = Decibels(event.touch.level.0 - 14.0);
    }
    let rendered = takegauge_pluck::render(&performance, &scene.sound);
    let unheard = |n: &PlayedNote| {
        let p = placed(n);
        match soft.iter().any(|s| s.index == n.index) {
            true => Placed { status: Status::Missed, attack: None, played: None, uncertainty: None, ..p },
            false => p,
        }
    };
    let measured = look(&scene, notes.iter().map(unheard).collect(), &rendered.samples, rendered.rate, 4_096);
    let found = soft.iter().filter(|n| {
        let p = &measured.alignment.passes[0].notes[n.index];
        p.status == Status::Played && p.played.is_some_and(|t| (t.0 - n.played.unwrap().0).abs() < 12e-3)
    });
    let found = found.count();
    assert!(soft.len() >= 6 && found + 1 >= soft.len(), "{found} of {}", soft.len());

    let (notes, measured) = self::measured("missed");
    let statuses = measured.alignment.passes[0].notes.iter().map(|p| p.status);
    let made_up = notes.iter().zip(statuses).filter(|(n, s)| n.played.is_none() && *s != Status::Missed);
    assert_eq!((made_up.count(), notes.iter().filter(|n| n.played.is_none()).count()), (0, 4));
}

#[test]
fn wrong_frets_are_told_from_right_ones() {
    let (notes, measured) = measured("wrong");
    let wrong = notes.iter().filter(|n| n.status == Sounded::WrongPitch).count();
    assert!(wrong >= 2);
    let mut mistaken = 0;
    for (n, p) in notes.iter().zip(&measured.alignment.passes[0].notes).filter(|(n, _)| n.played.is_some()) {
        let right = (n.status == Sounded::WrongPitch) == (p.status == Status::WrongPitch);
        mistaken += usize::from(!right || p.heard.is_some_and(|k| k != n.key));
    }
    assert_eq!(mistaken, 0);
}

#[test]
fn every_change_has_a_smear_or_a_reason_and_no_other_note_has() {
    let (_, measured) = measured("clean_fast");
    let grid = scenes::by_name("clean_fast").unwrap().drill.grid();
    for (g, m) in grid.iter().zip(&measured.notes[0]) {
        assert_eq!(g.change.is_some(), m.smear.is_some(), "note {}", g.index);
    }
    assert!(measured.detector_sd.0 > 0.0 && measured.detector_sd.0 < 1.5);
}

#[test]
fn nothing_and_damage_are_survived() {
    let scene = scenes::by_name("clean_slow").unwrap();
    let (performance, rendered) = scene.render();
    let notes: Vec<Placed> = performance.notes.iter().map(placed).collect();
    let mut damaged = rendered.samples.clone();
    damaged.iter_mut().step_by(3).for_each(|x| *x = f32::NAN);
    damaged.truncate(damaged.len() / 2);
    for samples in [&[][..], &[0.0; 10][..], &[f32::INFINITY; 5_000][..], &damaged] {
        let m = look(&scene, notes.clone(), samples, rendered.rate, 1_000);
        for p in &m.alignment.passes[0].notes {
            assert!(p.played.is_none_or(|t| t.0.is_finite() && t.0 >= 0.0));
            assert!(p.uncertainty.is_none_or(|u| u.0.is_finite() && u.0 > 0.0));
        }
        assert!(m.detector_sd.0.is_finite());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    #[test]
    fn blocks_of_any_size_give_the_same_answer(block in 1usize..60_000) {
        let scene = scenes::by_name("clean_limit").unwrap();
        let (performance, rendered) = scene.render();
        let notes: Vec<Placed> = performance.notes.iter().take(24).map(placed).collect();
        let short = &rendered.samples[..rendered.samples.len().min(4 * rendered.rate.hz() as usize)];
        let whole = look(&scene, notes.clone(), short, rendered.rate, short.len());
        prop_assert_eq!(whole, look(&scene, notes, short, rendered.rate, block));
    }

    #[test]
    fn any_alignment_of_any_noise_is_survived(
        times in prop::collection::vec(-1.0f64..3.0, 0..12),
        samples in prop::collection::vec(prop_oneof![Just(0.0f32), Just(f32::NAN), -1.0f32..1.0], 0..9_000),
        hz in 8_000u32..192_000,
    ) {
        let scene = scenes::by_name("clean_slow").unwrap();
        let notes = times.iter().enumerate().map(|(index, t)| Placed {
            index,
            status: Status::Played,
            attack: Some(0),
            expected: Seconds(*t),
            played: Some(Seconds(*t)),
            uncertainty: None,
            heard: None,
        }).collect();
        let m = look(&scene, notes, &samples, SampleRate::new(hz).unwrap(), 997);
        prop_assert!(m.alignment.passes[0].notes.iter().all(|p| p.played.is_some_and(|t| t.0.is_finite())));
    }
}
