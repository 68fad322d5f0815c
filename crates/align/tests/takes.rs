//! Takes as they come: slips, passes, breakdowns, tempi, noodling. Each seed is fixed; a share of notes that may
//! differ is named where a take is truly ambiguous (a note missed beside an extra one).

#![allow(clippy::unwrap_used)] // a test may fail by unwrapping

mod common;

use common::*;
use rand::RngExt;
use takegauge_align::{AlignError, Options, Status, TempoFrom, Timebase, refit};
use takegauge_drill::Drill;
use takegauge_units::{Attack, Bpm, PitchEvidence, Seconds};

/// Aligns a take of one pass of every kind of drill with these faults; shares of notes and extras that differ.
fn share_wrong(faults: Faults, tempo: f64) -> f64 {
    let (mut wrong, mut notes) = (0, 0);
    for (k, drill) in every_kind().iter().enumerate() {
        for seed in 0..3 {
            let mut player = Player::new(100 * k as u64 + seed);
            let count = drill.grid().len();
            player.play(drill, 0..count, 0.7, drill.tempo.0 * tempo, faults);
            let alignment = player.align(drill).unwrap();
            assert_eq!(alignment.passes.len(), 1, "{k} {seed}");
            let (w, n) = disagreements(&alignment.passes[0], &player.passes[0]);
            wrong += w + alignment.extra.len().abs_diff(player.extra.len());
            notes += n;
            let played = alignment.passes[0].tempo.0 / (drill.tempo.0 * tempo);
            assert!(faults.faster != 0.0 || (played - 1.0).abs() < 0.003, "{k} {seed}: tempo {played}");
        }
    }
    wrong as f64 / notes as f64
}

#[test]
fn tidy_takes_are_all_played() {
    assert!(share_wrong(tidy(), 1.0) <= 0.002);
}

#[test]
fn a_fifth_of_the_notes_missing() {
    assert!(share_wrong(Faults { missed: 0.2, ..tidy() }, 1.0) <= 0.02);
}

#[test]
fn a_fifth_more_attacks_than_notes() {
    assert!(share_wrong(Faults { extra: 0.2, ..tidy() }, 1.0) <= 0.01);
}

/// Three quarters of the way to where the next note would be is the border.
#[test]
fn a_string_brushed_after_the_last_note_is_an_extra_and_what_comes_later_is_not() {
    let drill = scale();
    let after = |steps: f64| {
        let mut player = Player::new(4);
        player.play(&drill, 0..drill.grid().len(), 1.0, drill.tempo.0, tidy());
        let step = 60.0 / drill.tempo.0 / f64::from(drill.steps_per_beat);
        let last = player.passes[0].last().unwrap().2;
        player.attack(last + steps * step, &[50], 2.0);
        let alignment = player.align(&drill).unwrap();
        (alignment.extra.len(), alignment.set_aside.len())
    };
    assert_eq!([after(0.4), after(0.65)], [(1, 0); 2]);
    assert_eq!([after(0.85), after(3.0)], [(0, 1); 2]);
}

#[test]
fn strings_brushed_just_before_or_after_a_note() {
    assert!(share_wrong(Faults { brushed: 0.1, scatter: 0.004, ..tidy() }, 1.0) <= 0.01);
}

#[test]
fn wrong_notes_are_told_from_missed_ones() {
    assert!(share_wrong(Faults { wrong: 0.05, ..tidy() }, 1.0) <= 0.01);
}

#[test]
fn a_player_who_speeds_up_by_a_tenth() {
    assert!(share_wrong(Faults { faster: 0.1, ..tidy() }, 1.0) <= 0.002);
}

#[test]
fn any_tempo_from_half_to_double() {
    for factor in [0.5, 0.8, 1.3, 2.0] {
        assert!(share_wrong(Faults { scatter: 0.003, ..tidy() }, factor) <= 0.005, "{factor}");
    }
}

#[test]
fn a_guitar_tuned_off_by_whole_semitones() {
    for by in [-2, -1, 1] {
        let mut player = Player::new(5);
        let drill = scale();
        player.play(&drill, 0..drill.grid().len(), 1.0, 160.0, Faults { transpose: by, ..tidy() });
        let alignment = player.align(&drill).unwrap();
        assert_eq!(alignment.cents_off, 100.0 * f64::from(by));
        assert_eq!(disagreements(&alignment.passes[0], &player.passes[0]).0, 0);
    }
}

#[test]
fn where_the_tempo_came_from_is_told() {
    let drill = scale();
    let count = drill.grid().len();
    let from = |tempo: f64, options: &Options| {
        let mut player = Player::new(6);
        player.play(&drill, 0..count, 1.0, tempo, tidy());
        player.align_with(&drill, options).unwrap().tempo_from
    };
    assert_eq!(from(160.0, &steady()), TempoFrom::Drill);
    assert_eq!(from(100.0, &steady()), TempoFrom::Sought);
    assert_eq!(from(100.0, &Options { tempo: Some(Bpm(100.0)), ..steady() }), TempoFrom::Given);
    assert_eq!(from(100.0, &Options { tempo_in_name: Some(Bpm(100.0)), ..steady() }), TempoFrom::FileName);
    assert_eq!(from(100.0, &Options { tempo: Some(Bpm(f64::NAN)), ..steady() }), TempoFrom::Sought);
}

#[test]
fn several_passes_with_noodling_between_each_at_its_tempo() {
    for drill in [scale(), roll(), rests()] {
        let mut player = Player::new(7);
        let count = drill.grid().len();
        let mut time = player.noodle(&drill, 0.3, 20, 7.0) + 2.0;
        for factor in [0.7, 1.0, 1.2] {
            time = player.play(&drill, 0..count, time, drill.tempo.0 * factor, tidy()) + 2.0;
            time = player.noodle(&drill, time, 12, 6.0) + 2.0;
        }
        let alignment = player.align(&drill).unwrap();
        assert_eq!(alignment.passes.len(), 3);
        for (pass, truth) in alignment.passes.iter().zip(&player.passes) {
            assert!(disagreements(pass, truth).0 <= 1);
        }
        assert!(alignment.extra.is_empty() && alignment.set_aside.len() >= 4);
    }
}

#[test]
fn more_repeats_than_asked_are_a_pass_of_their_own() {
    let drill = scale();
    let (count, line) = (drill.grid().len(), drill.notes_in_line());
    let mut player = Player::new(8);
    player.play(&drill, 0..count, 1.0, 160.0, Faults::default());
    player.play(&drill, 0..line, 1.0 + drill.duration().0, 160.0, Faults::default());
    let alignment = player.align(&drill).unwrap();
    let reached: Vec<(usize, usize)> = alignment.passes.iter().map(reached).collect();
    assert_eq!(reached, [(0, count - 1), (0, line - 1)]);
    assert!(alignment.passes[1].notes[line..].iter().all(|n| n.status == Status::NotReached));
}

#[test]
fn a_breakdown_and_a_restart_inside_the_line() {
    let drill = scale();
    let count = drill.grid().len();
    for (broke, again) in [(50, 47), (61, 0), (70, 66)] {
        let mut player = Player::new(9);
        let time = player.play(&drill, 0..broke, 1.0, 160.0, tidy());
        player.play(&drill, again..count, time + 2.5, 160.0, tidy());
        let alignment = player.align(&drill).unwrap();
        let reached: Vec<(usize, usize)> = alignment.passes.iter().map(reached).collect();
        assert_eq!(reached, [(0, broke - 1), (again, count - 1)]);
    }
}

#[test]
fn a_hesitation_starts_the_grid_anew_within_the_pass() {
    let drill = scale();
    let count = drill.grid().len();
    let mut player = Player::new(10);
    let time = player.play(&drill, 0..30, 1.0, 160.0, tidy());
    player.play(&drill, 30..count, time + 0.5, 160.0, tidy());
    let alignment = player.align(&drill).unwrap();
    assert_eq!(alignment.passes.len(), 1);
    let pass = &alignment.passes[0];
    assert_eq!(pass.anew, [30]);
    for note in &pass.notes {
        let played = note.played.unwrap();
        assert!((played.0 - note.expected.0).abs() < 0.025, "{}", note.index);
    }
}

#[test]
fn a_start_broken_off_before_half_the_line_is_set_aside() {
    let drill = scale();
    let mut player = Player::new(11);
    let time = player.play(&drill, 0..6, 1.0, 160.0, tidy());
    player.play(&drill, 0..drill.grid().len(), time + 2.0, 160.0, tidy());
    let alignment = player.align(&drill).unwrap();
    assert_eq!(alignment.passes.len(), 1);
    assert_eq!(disagreements(&alignment.passes[0], &player.passes[1]).0, 0);
    assert_eq!(alignment.set_aside.len(), 1);
    assert!(alignment.set_aside[0].to.0 < 2.0);
}

#[test]
fn a_missed_first_note_does_not_shift_a_tremolo() {
    let drill = tremolo();
    let count = drill.grid().len();
    let mut player = Player::new(12);
    player.play(&drill, 1..count, 1.0, 170.0, tidy());
    let pass = &player.align(&drill).unwrap().passes[0];
    assert_eq!(pass.notes[0].status, Status::Missed);
    assert_eq!(disagreements(pass, &player.passes[0]).0, 0);
}

#[test]
fn faint_attacks_fill_gaps_and_are_no_extras() {
    let drill = scale();
    let count = drill.grid().len();
    let mut player = Player::new(13);
    player.play(&drill, 0..count, 1.0, 160.0, tidy());
    for (i, a) in player.attacks.iter_mut().enumerate() {
        if i % 10 == 3 {
            a.strength = 0.6;
        }
    }
    for i in 0..30 {
        player.attack(1.04 + 0.2 * f64::from(i), &[], 0.4);
    }
    let alignment = player.align(&drill).unwrap();
    assert_eq!(disagreements(&alignment.passes[0], &player.passes[0]).0, 0);
    assert!(alignment.extra.is_empty());
}

#[test]
fn a_click_is_the_grid() {
    let drill = scale();
    let count = drill.grid().len();
    let beats: Vec<Seconds> = (0..8).map(|i| Seconds(0.5 + 0.4 * f64::from(i))).collect();
    let options = Options { timebase: Timebase::Click(beats), ..steady() };
    let mut player = Player::new(14);
    // A bar of count-in, then 20 ms behind the click all along.
    player.play(&drill, 0..count, 0.5 + 4.0 * 0.4 + 0.02, 150.0, Faults::default());
    let alignment = player.align_with(&drill, &options).unwrap();
    let pass = &alignment.passes[0];
    assert_eq!((pass.click_beat, alignment.tempo_from), (Some(4), TempoFrom::Click));
    assert!((pass.offset.0 - 2.1).abs() < 1e-9);
    assert!(pass.notes.iter().all(|n| (n.played.unwrap().0 - n.expected.0 - 0.02).abs() < 1e-4));
}

#[test]
fn refitting_follows_refined_times() {
    let drill = scale();
    let grid = drill.grid();
    let mut player = Player::new(15);
    player.play(&drill, 0..grid.len(), 1.0, 160.0, tidy());
    let mut alignment = player.align(&drill).unwrap();
    for note in &mut alignment.passes[0].notes {
        note.played = Some(Seconds(2.0 + 1.25 * grid[note.index].expected.0));
    }
    refit(&mut alignment, &grid, &drill, &Timebase::Steady);
    let pass = &alignment.passes[0];
    assert!((pass.tempo.0 - 128.0).abs() < 1e-6 && (pass.offset.0 - 2.0).abs() < 1e-9);
    assert!(pass.notes.iter().all(|n| (n.played.unwrap().0 - n.expected.0).abs() < 1e-9));
}

/// Maximum-cardinality pairing within 50 ms gives note 1 the attack 38 ms after it and leaves note 2 without one
/// (`mir_eval.util.match_events` on ref 1.000, 1.040, 1.200 and est 1.038, 1.200 s). The counter-example in its place
/// in a run of notes 40 ms apart: the attack belongs to the note 2 ms away.
#[test]
fn attacks_are_paired_by_cost_not_by_hit_window() {
    let drill = drill("2:5 2:5 2:5 2:5 2:5 2:5 2:5 2:5 2:5 2:5 2:5 2:5 2:5 2:5 2:5 2:5", 4, 375.0);
    let mut player = Player::new(16);
    player.play(&drill, 0..64, 1.0, 375.0, Faults::default());
    let at = |i: usize| 1.0 + 0.04 * i as f64;
    let kept: Vec<Attack> = std::mem::take(&mut player.attacks);
    player.attacks = kept.into_iter().enumerate().filter(|(i, _)| *i != 30 && *i != 31).map(|(_, a)| a).collect();
    player.attack(at(31) - 0.002, &[64], 3.0);
    let pass = &player.align(&drill).unwrap().passes[0];
    assert_eq!(pass.notes[30].status, Status::Missed);
    assert!((pass.notes[31].played.unwrap().0 - (at(31) - 0.002)).abs() < 1e-4);
}

#[test]
fn other_music_and_other_drills_are_refused() {
    for seed in 0..4 {
        let mut player = Player::new(20 + seed);
        player.noodle(&scale(), 0.5, 300, 4.0 + 3.0 * seed as f64);
        assert!(matches!(player.align(&scale()), Err(AlignError::NoFit { .. })), "{seed}");
        for (played, asked) in [(scale(), roll()), (roll(), scale()), (rests(), scale()), (scale(), tremolo())] {
            let mut player = Player::new(30 + seed);
            player.play(&played, 0..played.grid().len(), 1.0, played.tempo.0, tidy());
            assert!(matches!(player.align(&asked), Err(AlignError::NoFit { .. })), "{seed}");
        }
    }
}

#[test]
fn without_any_pitch_evidence_a_take_still_aligns() {
    let drill = scale();
    let mut player = Player::new(17);
    player.play(&drill, 0..drill.grid().len(), 1.0, 160.0, tidy());
    player.attacks.iter_mut().for_each(|a| a.pitch = PitchEvidence::NONE);
    let alignment = player.align(&drill).unwrap();
    assert_eq!(disagreements(&alignment.passes[0], &player.passes[0]).0, 0);
}

#[test]
fn empty_and_odd_inputs_are_answered() {
    let drill = scale();
    assert_eq!(Player::new(1).align(&drill), Err(AlignError::NothingHeard));
    let mut player = Player::new(1);
    player.attack(1.0, &[50], 0.5);
    assert_eq!(player.align(&drill), Err(AlignError::NothingHeard));
    player.attack(1.5, &[50], 2.0);
    assert!(matches!(player.align(&drill), Err(AlignError::NoFit { .. })));
    let attacks = player.in_order().to_vec();
    let none = takegauge_align::align(&attacks, rate(), &[], &drill, &steady());
    assert_eq!(none, Err(AlignError::EmptyGrid));
    for beats in [vec![], vec![0.5], vec![1.0, 0.5], vec![f64::NAN, 1.0]] {
        let timebase = Timebase::Click(beats.into_iter().map(Seconds).collect());
        assert!(matches!(
            player.align_with(&drill, &Options { timebase, ..steady() }),
            Err(AlignError::BadClick { .. })
        ));
    }
    // All attacks at one instant, and attacks of no finite strength.
    let mut player = Player::new(2);
    (0..50).for_each(|_| player.attack(1.0, &[50], f32::NAN));
    assert_eq!(player.align(&drill), Err(AlignError::NothingHeard));
    (0..50).for_each(|_| player.attack(1.0, &[50], f32::INFINITY));
    assert!(matches!(player.align(&drill), Err(AlignError::NoFit { .. })));
}

/// Noise at 20 attacks a second, half of them faint.
fn noise(seconds: f64) -> Player {
    let mut player = Player::new(5);
    let mut time = 0.5;
    while time < seconds {
        let (key, strength) = (40 + (player.rng.random::<f64>() * 36.0) as i32, player.rng.random::<f32>() * 2.0);
        player.attack(time, &[key], strength);
        time += 0.02 - 0.05 * (1.0 - player.rng.random::<f64>()).ln();
    }
    player
}

fn long_line(notes: usize) -> Drill {
    let line: Vec<String> =
        (0..notes).map(|k| format!("{}:{}", 1 + (k * 7 + k / 11) % 6, 1 + (k * 5 + k / 7) % 12)).collect();
    drill(&line.join(" "), 1, 83.0)
}

/// It took 90 s for a line of 500 notes, and 300 s for ten minutes against 98,000 notes.
#[test]
fn noise_against_a_long_line_is_refused_quickly_and_in_step_with_its_length() {
    // The best of three: other programs take their share of the machine.
    let refused = |seconds: f64, drill: &Drill| {
        let mut player = noise(seconds);
        let once = |_| {
            let begun = std::time::Instant::now();
            assert!(matches!(player.align(drill), Err(AlignError::NoFit { .. })));
            begun.elapsed().as_secs_f64()
        };
        (0..3).map(once).fold(f64::INFINITY, f64::min)
    };
    let line = long_line(500);
    let (short, long) = (refused(90.0, &line), refused(180.0, &line));
    eprintln!("90 s of noise: {short:.2} s; 180 s: {long:.2} s");
    // Held against each other, since a loaded machine is several times slower than an idle one, which needs under 2 s.
    assert!(long < 8.0 * short && long < 60.0, "{short} {long}");
}

#[test]
fn real_playing_against_another_long_line_is_refused_quickly() {
    let (played, asked) = (long_line(500), drill(&"6:3 5:5 4:4 3:5 6:7 5:3 2:8 1:7 ".repeat(60), 1, 120.0));
    let mut player = Player::new(6);
    player.play(&played, 0..500, 1.0, 90.0, tidy());
    let begun = std::time::Instant::now();
    assert!(player.align(&played).is_ok());
    let right = begun.elapsed().as_secs_f64();
    let begun = std::time::Instant::now();
    assert!(matches!(player.align(&asked), Err(AlignError::NoFit { .. })));
    let other = begun.elapsed().as_secs_f64();
    eprintln!("its own line: {right:.2} s, another: {other:.2} s");
    assert!(other < 60.0);
}

#[test]
fn a_search_tells_how_far_it_is_and_can_be_stopped() {
    let player = noise(60.0);
    let line = long_line(300);
    let mut shares = Vec::new();
    let stop = |shares: &mut Vec<f64>, after: usize| {
        let mut told = |share: f64| {
            shares.push(share);
            shares.len() < after
        };
        takegauge_align::align_told(&player.attacks, rate(), &line.grid(), &line, &steady(), &mut told)
    };
    assert_eq!(stop(&mut shares, 3), Err(AlignError::Stopped));
    assert_eq!(shares.len(), 3);
    shares.clear();
    assert!(matches!(stop(&mut shares, usize::MAX), Err(AlignError::NoFit { .. })));
    assert!(shares.is_sorted() && shares.len() >= 12 && shares.iter().all(|s| (0.0..=1.0).contains(s)), "{shares:?}");
}
