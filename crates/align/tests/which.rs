//! Which drill a take is of, on takes made on paper.

#![allow(clippy::unwrap_used)] // a test may fail by unwrapping

mod common;

use common::*;
use takegauge_align::{evidence, resemblance};
use takegauge_drill::Drill;
use takegauge_units::Attack;

/// The drills that every take is tried against: those of the kit, and near relations of them.
fn offered() -> Vec<Drill> {
    let relations = [
        // Up without down, the same notes in another order, one string further, with a rest.
        drill("6:3 6:5 6:7 5:3 5:5 5:7 4:4 4:5 4:7 3:4 3:5 3:7", 8, 160.0),
        drill("3:9 1:8 2:10 3:9 1:7 2:8 2:10 2:8", 10, 150.0),
        drill("2:9 1:10 2:10 1:8 2:9 1:8 2:7 1:8", 10, 150.0),
        drill("4:5> 4:7 3:5 3:7 2:5> 3:7 3:5 4:7 4:5>", 8, 132.0),
    ];
    every_kind().into_iter().chain(relations).collect()
}

fn first(drills: &[Drill], of: &dyn Fn(&Drill) -> Option<f64>) -> usize {
    let all = drills.iter().map(|d| of(d).unwrap_or(f64::NEG_INFINITY)).enumerate();
    all.max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |best| best.0)
}

fn told(drills: &[Drill], attacks: &[Attack]) -> usize {
    first(drills, &|d| evidence(attacks, rate(), &d.grid(), d, &steady()))
}

#[test]
fn a_take_is_told_by_the_drill_that_it_is_of() {
    let drills = offered();
    let careless = Faults { missed: 0.05, extra: 0.05, wrong: 0.03, scatter: 0.012, ..Faults::default() };
    for (own, d) in drills.iter().enumerate() {
        for (seed, faults, tempo) in [(1, tidy(), 1.0), (2, careless, 1.0), (3, tidy(), 0.7)] {
            let mut player = Player::new(seed);
            player.play(d, 0..d.grid().len(), 0.7, d.tempo.0 * tempo, faults);
            assert_eq!(told(&drills, player.in_order()), own, "drill {own}, seed {seed}");
        }
    }
}

#[test]
fn the_pitches_in_a_row_alone_leave_it_among_the_first() {
    let drills = offered();
    for (own, d) in drills.iter().enumerate() {
        let mut player = Player::new(7);
        player.play(d, 0..d.grid().len(), 0.7, d.tempo.0, tidy());
        let attacks = player.in_order().to_vec();
        let of = |d: &Drill| resemblance(&attacks, &d.grid(), d).unwrap_or(f64::NEG_INFINITY);
        let likelier = drills.iter().filter(|other| of(other) > of(d)).count();
        assert!(likelier < 2, "drill {own}: {likelier} are more like it");
    }
}

#[test]
fn a_guitar_tuned_down_is_the_same_drill() {
    let drills = offered();
    let mut player = Player::new(5);
    player.play(&drills[0], 0..drills[0].grid().len(), 0.7, 160.0, Faults { transpose: -1, ..tidy() });
    assert_eq!(told(&drills, player.in_order()), 0);
}

#[test]
fn nothing_heard_and_another_thing_are_no_drill() {
    let d = scale();
    assert_eq!(resemblance(&[], &d.grid(), &d), None);
    assert_eq!(evidence(&[], rate(), &d.grid(), &d, &steady()), None);
    let mut player = Player::new(9);
    player.noodle(&roll(), 0.5, 80, 6.0);
    let attacks = player.in_order().to_vec();
    assert_eq!(evidence(&attacks, rate(), &d.grid(), &d, &steady()), None);
}
