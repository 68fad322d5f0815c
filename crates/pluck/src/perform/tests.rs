//! The timing as asked: counts, sizes, order, and nonsense.

use super::*;
use crate::player::{Happens, Selector};
use crate::{ExtraKind, scenes};
use takegauge_drill::{ChangeKind, Stroke};
use takegauge_units::Millis;

fn threes(repeats: u32) -> Drill {
    let mut drill = scenes::by_name("clean_slow").unwrap().drill;
    drill.repeats = repeats;
    drill
}

fn deviations(drill: &Drill, player: &Player, which: Selector) -> Vec<f64> {
    let grid = drill.grid();
    let take = perform(drill, player);
    grid.iter()
        .zip(&take.notes)
        .filter(|(g, _)| which.matches(g))
        .filter_map(|(_, n)| n.deviation().map(|d| d.0))
        .collect()
}

fn mean_sd(x: &[f64]) -> (f64, f64) {
    let mean = x.iter().sum::<f64>() / x.len() as f64;
    let var = x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (x.len() as f64 - 1.0);
    (mean, var.sqrt())
}

#[test]
fn a_player_without_any_spread_stands_on_the_grid() {
    let player = Player { spread: Millis(0.0), ..Player::default() };
    let take = perform(&threes(2), &player);
    assert_eq!(take.notes.len(), 72);
    for (n, g) in take.notes.iter().zip(threes(2).grid()) {
        assert_eq!(n.played, Some(n.grid));
        assert!((n.grid.0 - 0.8 - g.expected.0).abs() < 1e-9);
    }
}

/// Standard errors: mean sd / sqrt(n), SD sd / sqrt(2 n); five of them are allowed.
#[test]
fn bias_and_spread_come_out_as_asked() {
    let inside = Selector::Kind(ChangeKind::Inside);
    let player = Player {
        spread: Millis(3.0),
        biases: vec![(inside, Millis(14.0)), (Selector::Stroke(Stroke::Up), Millis(-2.0))],
        loose: vec![(inside, Millis(4.0))],
        ..Player::default()
    };
    let drill = threes(100);
    let (same, same_sd) = mean_sd(&deviations(&drill, &player, Selector::SameString));
    assert!((same_sd - 3.16).abs() < 0.25, "{same_sd}"); // sqrt(3^2 + 1^2): half the strokes 2 ms earlier
    assert!((same + 1.0).abs() < 0.4, "{same}");
    let found = deviations(&drill, &player, inside);
    let (bias, sd) = mean_sd(&found);
    assert!((bias - 13.0).abs() < 1.5, "{bias}");
    assert!((sd - 5.1).abs() < 0.5, "{sd} over {}", found.len());
}

#[test]
fn fatigue_grows_the_spread_and_slips_fly_far() {
    let drill = threes(100);
    let tired = Player { spread: Millis(3.0), fatigue: 3.0, ..Player::default() };
    let all = deviations(&drill, &tired, Selector::All);
    let (first, last) = (mean_sd(&all[..360]).1, mean_sd(&all[all.len() - 360..]).1);
    assert!((3.0..4.5).contains(&first) && (10.0..13.5).contains(&last), "{first} {last}");
    let slipping = Player { spread: Millis(1.0), slips: 0.05, slip_size: Millis(20.0), ..Player::default() };
    let far: Vec<f64> = deviations(&drill, &slipping, Selector::All).into_iter().filter(|d| d.abs() > 10.0).collect();
    assert!((130..240).contains(&far.len()), "{}", far.len());
    assert!(far.iter().all(|d| (14.0..46.0).contains(&d.abs())));
    assert!(far.iter().any(|d| *d > 0.0) && far.iter().any(|d| *d < 0.0));
}

#[test]
fn places_keep_their_offsets_over_all_repeats() {
    let player = Player { spread: Millis(0.0), place_spread: Millis(1.5), ..Player::default() };
    let take = perform(&threes(3), &player);
    let at = |n: usize| take.notes[n].deviation().unwrap().0;
    for n in 0..36 {
        assert!((at(n) - at(n + 36)).abs() < 1e-6 && (at(n) - at(n + 72)).abs() < 1e-6);
    }
    assert!(mean_sd(&(0..36).map(at).collect::<Vec<_>>()).1 > 0.8);
}

#[test]
fn tempo_factor_and_change_move_the_grid() {
    let still = Player { spread: Millis(0.0), tail: Seconds(0.0), ..Player::default() };
    let drill = threes(4);
    let span = drill.duration().0;
    let length = |player: &Player| perform(&drill, player).passes[0].end.0 - 0.8;
    assert!((length(&still) - span).abs() < 1e-9);
    let faster = Player { tempo_factor: 1.02, ..still.clone() };
    assert!((length(&faster) - span / 1.02).abs() < 1e-9);
    // Integral of dx / (1 + c x / span) = span ln(1 + c) / c.
    let rushing = Player { tempo_change: 0.05, ..still };
    assert!((length(&rushing) - span * 1.05f64.ln() / 0.05).abs() < 1e-9);
}

#[test]
fn faults_change_the_notes_they_name_and_no_others() {
    let drill = threes(3);
    let clean = Player::default();
    let faulty = Player {
        missed: Happens::At(vec![5]),
        wrong: Happens::At(vec![20, 40]),
        extra: Happens::At(vec![60]),
        brushed: Happens::At(vec![70]),
        soft: Happens::At(vec![80]),
        biases: vec![(Selector::Position(9), Millis(6.0))],
        ..Player::default()
    };
    let (a, b) = (perform(&drill, &clean), perform(&drill, &faulty));
    let count = |status| b.notes.iter().filter(|n| n.status == status).count();
    assert_eq!((count(Status::Missed), count(Status::WrongPitch)), (1, 2));
    assert_eq!(b.extras.iter().map(|e| e.kind).collect::<Vec<_>>(), [ExtraKind::Extra, ExtraKind::Brushed]);
    for (x, y) in a.notes.iter().zip(&b.notes) {
        match y.index {
            5 => assert_eq!(y.played, None),
            20 | 40 => assert!(y.key != x.key && y.played == x.played),
            i if i % 36 == 9 => {
                assert!((y.deviation().unwrap().0 - x.deviation().unwrap().0 - 6.0).abs() < 1e-6);
            }
            _ => assert_eq!((x.played, x.key), (y.played, y.key)),
        }
    }
    for (extra, after) in b.extras.iter().zip([60, 70]) {
        assert_eq!(extra.after_index, Some(after));
        assert!(extra.at.0 > b.notes[after].played.unwrap().0 + 0.02);
        assert!(extra.at.0 < b.notes[after + 1].played.unwrap().0 - 0.02);
    }
    let soft = b.events.iter().filter(|e| e.touch.release.0 > 1.4).count();
    assert_eq!(soft, 1);
}

#[test]
fn chances_come_about_as_often_as_asked() {
    let player = Player {
        missed: Happens::Chance(0.1),
        wrong: Happens::Chance(0.05),
        brushed: Happens::Chance(1.0),
        ..Player::default()
    };
    let take = perform(&threes(50), &player);
    let missed = take.notes.iter().filter(|n| n.status == Status::Missed).count();
    assert!((130..230).contains(&missed), "{missed} of 1800");
    assert_eq!(take.extras.len(), 1800);
    let never = Player { missed: Happens::Chance(f64::NAN), ..Player::default() };
    assert!(perform(&threes(5), &never).notes.iter().all(|n| n.status == Status::Played));
}

#[test]
fn smear_stands_on_the_note_that_arrives() {
    let scene = scenes::by_name("smear_one_pair").unwrap();
    for n in scene.perform().notes {
        match n.change {
            Some(c) if (c.from, c.to) == (3, 2) => assert!((80.0..90.0).contains(&n.overlap.unwrap().0)),
            Some(_) => assert!((13.0..17.0).contains(&n.overlap.unwrap().0)),
            None => assert_eq!(n.overlap, None),
        }
    }
}

/// A pair of strings in turn: the pick comes back before a long ringing is over.
#[test]
fn a_re_picked_string_rings_no_longer_than_to_the_picks_return() {
    let mut scene = scenes::by_name("roll").unwrap();
    scene.player.ring = Millis(5_000.0);
    let take = scene.perform();
    let returns = take.notes.windows(3).filter(|w| w[0].string == w[2].string);
    for w in returns {
        let free = w[2].played.unwrap().0 - w[1].played.unwrap().0;
        let overlap = w[1].overlap.unwrap().0 * 1e-3;
        assert!(overlap < free && overlap > free - 0.009, "{overlap} of {free}");
    }
}

#[test]
fn passes_follow_each_other_and_attacks_keep_their_order() {
    let take = scenes::by_name("restarts").unwrap().perform();
    let counts: Vec<_> = take.passes.iter().map(|p| (p.first, p.notes)).collect();
    assert_eq!(counts, [(0, 61), (36, 40), (0, 108)]);
    assert!(take.passes.windows(2).all(|w| w[1].offset.0 > w[0].end.0 + 1.9));
    assert!(take.pauses.iter().all(|(a, b)| b.0 - a.0 > 1.9));
    let attacks = take.attacks();
    assert!(attacks.windows(2).all(|w| w[1].0 - w[0].0 >= CLOSEST_S - 1e-12));
    let noodles = scenes::by_name("two_passes").unwrap().perform();
    assert_eq!(noodles.extras.iter().filter(|e| e.kind == ExtraKind::Noodling).count(), 6);
}

#[test]
fn a_bar_is_counted_in_where_there_is_room() {
    let take = scenes::by_name("click_bleed").unwrap().perform();
    let before: Vec<_> = take.beats.iter().filter(|b| b.at.0 < 2.2 - 1e-9).collect();
    assert_eq!(before.len(), 4);
    assert!(before[0].accented && !before[1].accented);
    assert!((before[0].at.0 - (2.2 - 4.0 * 0.4)).abs() < 1e-9);
}

#[test]
fn the_same_seed_plays_the_same_and_another_differs() {
    let (drill, player) = (threes(2), Player::default());
    assert_eq!(perform(&drill, &player), perform(&drill, &player));
    assert_ne!(perform(&drill, &player).attacks(), perform(&drill, &Player { seed: 2, ..player }).attacks());
}

#[test]
fn nonsense_gives_finite_times_and_no_panic() {
    let nan = Millis(f64::NAN);
    let wild = Player {
        tempo_factor: f64::NAN,
        tempo_change: f64::INFINITY,
        spread: Millis(1e300),
        fatigue: f64::NEG_INFINITY,
        wander: nan,
        place_spread: Millis(f64::INFINITY),
        biases: vec![(Selector::All, nan)],
        ring: Millis(-1e9),
        lead_in: Seconds(-5.0),
        tail: Seconds(f64::NAN),
        slips: 2.0,
        slip_size: Millis(1e9),
        passes: vec![
            Pass { first: 500, ..Pass::WHOLE },
            Pass { pause: Seconds(f64::NAN), noodling: 9, ..Pass::WHOLE },
            Pass { pause: Seconds(0.1), noodling: usize::MAX, ..Pass::WHOLE },
        ],
        ..Player::default()
    };
    let take = perform(&threes(1), &wild);
    assert_eq!(take.notes.len(), 72);
    assert!(take.length.0.is_finite());
    assert!(take.attacks().iter().all(|a| a.0.is_finite() && a.0 >= 0.0));
    assert!(take.events.iter().all(|e| e.hand_damps.down_20_db.0.is_finite()));
    assert!(perform_grid(&threes(1), &[], &Player::default()).notes.is_empty());
}
