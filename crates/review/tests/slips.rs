//! A slip does not destroy the answer: with one to five notes not heard or touched anywhere, the same fault is named.
//! From sound to finding and with more draws: `cargo run --release -p takegauge-take --example slips`.
#![allow(clippy::unwrap_used, clippy::panic)]

mod support;

use support::{THREE_PER_STRING, drill, scored};
use takegauge_drill::{ChangeKind, Stroke};
use takegauge_pluck::{Happens, Player, Selector};
use takegauge_review::{GroupKey, Measure};
use takegauge_stats::Seeded;
use takegauge_units::Millis;

const INSIDE: Selector = Selector::Kind(ChangeKind::Inside);

const DRAWS: usize = 60;

/// Draws in which `group` is named for `measure`, and of these the share whose interval holds `planted`.
fn named(
    line: &str,
    repeats: u32,
    make: impl Fn() -> Player,
    asked: (GroupKey, Measure),
    planted: f64,
) -> (usize, f64) {
    let d = drill(line, 170.0, repeats);
    let notes = d.grid().len();
    let draws: Vec<Option<bool>> = (0..DRAWS as u64)
        .map(|k| {
            let mut rng = Seeded::stream(500, k);
            let lost: Vec<usize> = (0..1 + rng.index(5)).map(|_| rng.index(notes)).collect();
            let happens = Happens::At(lost);
            let mut player = Player { seed: 1000 + k, ..make() };
            if rng.index(2) == 0 {
                player.missed = happens
            } else {
                player.extra = happens
            }
            let report = scored(&d, &player);
            let hit = report.findings.iter().find(|f| (f.group, f.measure) == asked)?;
            Some(hit.ci95.is_some_and(|[low, high]| low <= planted && planted <= high))
        })
        .collect();
    let found = draws.iter().flatten().count();
    (found, draws.iter().flatten().filter(|held| **held).count() as f64 / found.max(1) as f64)
}

fn check(what: &str, (found, held): (usize, f64)) {
    eprintln!("{what}: named in {found} of {DRAWS}, held in {held:.3}");
    // Named in 95 %; an interval of 95 % holds in 60 draws in at least 84 % (four standard errors).
    assert!(100 * found >= 95 * DRAWS && held >= 0.84, "{what}: named in {found} of {DRAWS}, held in {held:.3}");
}

#[test]
fn late_inside_changes_are_named_whatever_is_lost() {
    let player = || Player { biases: vec![(INSIDE, Millis(14.0))], ..Player::default() };
    check("late inside", named(THREE_PER_STRING, 7, player, (GroupKey::Kind(ChangeKind::Inside), Measure::Bias), 14.0));
}

#[test]
fn loose_inside_changes_are_named_whatever_is_lost() {
    let player = || Player { loose: vec![(INSIDE, Millis(12.0))], ..Player::default() };
    // sqrt(4^2 + 12^2) / 4
    check(
        "loose inside",
        named(THREE_PER_STRING, 10, player, (GroupKey::Kind(ChangeKind::Inside), Measure::Spread), 3.16),
    );
}

#[test]
fn one_late_pair_is_named_whatever_is_lost() {
    let player = || Player { biases: vec![(Selector::Pair { from: 3, to: 2 }, Millis(12.0))], ..Player::default() };
    check("one late pair", named(THREE_PER_STRING, 12, player, (GroupKey::Pair(3, 2), Measure::Bias), 12.0));
}

#[test]
fn uneven_strokes_are_named_whatever_is_lost() {
    let player = || Player { biases: vec![(Selector::Stroke(Stroke::Up), Millis(9.0))], ..Player::default() };
    check("uneven strokes", named("2:5 2:5 2:5 2:5", 40, player, (GroupKey::Stroke(Stroke::Up), Measure::Bias), 9.0));
}
