//! Ladders and sessions of simulated takes.
#![allow(clippy::unwrap_used, clippy::panic)]

mod support;

use support::{THREE_PER_STRING, drill, scored};
use takegauge_drill::ChangeKind;
use takegauge_pluck::{Player, Selector};
use takegauge_review::declared::{N, SPREAD};
use takegauge_review::{GroupKey, LadderReport, ScoreReport, SessionTake, SeveralError, ladder, session};
use takegauge_units::Millis;

const TEMPOS: [f64; 9] = [90.0, 110.0, 130.0, 150.0, 165.0, 180.0, 195.0, 210.0, 230.0];

/// Inside changes that come apart above 160: later by 0.2 ms and looser by 0.2 ms for every bpm.
fn apart(tempo: f64, seed: u64) -> Player {
    let inside = Selector::Kind(ChangeKind::Inside);
    let over = (tempo - 160.0).max(0.0);
    Player {
        seed,
        biases: vec![(inside, Millis(0.2 * over))],
        loose: vec![(inside, Millis(0.2 * over))],
        ..Player::default()
    }
}

fn takes(tempos: &[f64], player: impl Fn(f64, u64) -> Player) -> Vec<ScoreReport> {
    let play = |(k, t): (usize, &f64)| scored(&drill(THREE_PER_STRING, *t, 6), &player(*t, 20 + k as u64));
    tempos.iter().enumerate().map(play).collect()
}

fn says(report: &LadderReport, words: &str) -> bool {
    report.remarks.iter().any(|r| r.contains(words))
}

#[test]
fn the_tempo_at_which_inside_changes_come_apart() {
    let report = ladder(&takes(&TEMPOS, apart), 1).unwrap();
    let row = |key: GroupKey| report.groups.iter().find(|g| g.group == key).unwrap();
    let [low, high] = row(GroupKey::Kind(ChangeKind::Inside)).comes_apart_ci95_bpm.expect("inside changes come apart");
    assert!(low <= 165.0 && high >= 155.0 && high - low <= 60.0, "{low} to {high}");
    assert!(
        row(GroupKey::Kind(ChangeKind::Outside)).comes_apart_bpm.is_none()
            && row(GroupKey::SameString).comes_apart_bpm.is_none()
    );
    assert_eq!(row(GroupKey::Kind(ChangeKind::Inside)).by_tempo.len(), TEMPOS.len());
    assert!(says(&report, "slow to fast") && says(&report, "Record one more take at 90 bpm"));
    assert_eq!(report.clean_up_to_bpm.map(f64::round), Some(230.0));
}

/// Late and loose inside changes that the eye sees at once: five tempos, four repeats.
#[test]
fn what_the_eye_sees_is_named_first() {
    let inside = Selector::Kind(ChangeKind::Inside);
    let tempos = [120.0, 140.0, 160.0, 180.0, 200.0];
    let cases = [([-0.1, 1.5, 4.4, 12.8, 19.9], 130.0..172.0), ([2.6, 2.9, 3.6, 13.4, 13.9], 150.0..182.0)];
    for (late, from) in cases {
        let play = |(k, t): (usize, &f64)| {
            let player = Player { seed: 60 + k as u64, biases: vec![(inside, Millis(late[k]))], ..Player::default() };
            scored(&drill(THREE_PER_STRING, *t, 4), &player)
        };
        let report = ladder(&tempos.iter().enumerate().map(play).collect::<Vec<_>>(), 1).unwrap();
        assert!(report.headline.starts_with("Inside changes come apart"), "{:?}", report.remarks);
        let row = report.groups.iter().find(|g| g.group == GroupKey::Kind(ChangeKind::Inside)).unwrap();
        assert!(from.contains(&row.comes_apart_bpm.unwrap()), "{row:?}");
        assert!(row.late_at_top_ms.is_some_and(|l| (l - late[4]).abs() < 6.0), "{row:?}");
        let others = report.groups.iter().filter(|g| g.comes_apart_bpm.is_some()).count();
        assert_eq!(others, 1, "{:?}", report.remarks);
    }
}

#[test]
fn steady_ladders_seldom_come_apart() {
    let steady = |_: f64, seed| Player { seed, ..Player::default() };
    let alarms = (0..6u64)
        .filter(|turn| {
            let t = takes(&TEMPOS, |tempo, seed| steady(tempo, seed + 100 * turn));
            ladder(&t, 1).unwrap().groups.iter().any(|g| g.comes_apart_bpm.is_some())
        })
        .count();
    // 5 % of 6; two or more have a chance of 1 in 30.
    assert!(alarms <= 1, "{alarms}");
}

#[test]
fn a_groups_scatter_is_the_one_that_a_take_tells() {
    let takes = takes(&[150.0, 200.0], apart);
    let report = ladder(&takes, 1).unwrap();
    let mut told = 0;
    for row in &report.groups {
        for (at, take) in row.by_tempo.iter().zip(&takes) {
            let Some(own) = take.groups.iter().find(|g| g.group == row.group) else { continue };
            assert_eq!(
                (at.n, at.spread_ms.is_some()),
                (own.figures.count(&N), own.figures.value(&SPREAD).is_some()),
                "{}",
                row.group
            );
            // The take's own notes are rounded to 1 us before the ladder sees them.
            let near = |a: Option<f64>, b: Option<f64>| (a.unwrap_or(0.0) - b.unwrap_or(0.0)).abs() < 0.003;
            assert!(
                near(at.spread_ms, own.figures.value(&SPREAD)),
                "{}: {:?} {:?}",
                row.group,
                at.spread_ms,
                own.figures.value(&SPREAD)
            );
            let ([a, b], [c, d]) =
                (at.spread_ci95_ms.unwrap_or_default(), own.figures.ends(&SPREAD).unwrap_or_default());
            assert!(near(a, c) && near(b, d), "{}: {a:?} {b:?}, {c:?} {d:?}", row.group);
            told += usize::from(at.spread_ms.is_some());
        }
    }
    assert!(told > 20, "{told}");
}

#[test]
fn late_places_and_the_mean_of_a_take_are_no_scatter_of_a_ladders_group() {
    let late = |_: f64, seed| Player {
        seed,
        spread: Millis(4.0),
        biases: vec![(Selector::Kind(ChangeKind::Inside), Millis(25.0 * (seed % 2) as f64))],
        ..Player::default()
    };
    let report = ladder(&takes(&[120.0, 120.5], late), 1).unwrap();
    let change = report.groups.iter().find(|g| g.group == GroupKey::Change).unwrap();
    let [low, high] = change.by_tempo[0].spread_ci95_ms.unwrap();
    // Inside and outside changes 25 ms apart in one take and together in the other: a plain SD would be 10 ms.
    assert_eq!(change.by_tempo.len(), 1);
    assert!(low.is_some_and(|l| l < 4.0) && high.is_some_and(|h| h > 4.0 && h < 5.5), "{low:?} {high:?}");
    assert!(report.groups.iter().filter(|g| g.group == GroupKey::SameString).all(|g| g.by_tempo[0].bias_ms.is_none()));
}

#[test]
fn few_tempos_and_one_take_say_so() {
    let one = ladder(&takes(&[120.0], apart), 1).unwrap();
    assert!(says(&one, "One take shows one tempo"));
    let three = ladder(&takes(&[90.0, 120.0, 121.0, 150.0], apart), 1).unwrap();
    assert_eq!(three.tempos.iter().map(|t| t.takes).collect::<Vec<_>>(), [1, 2, 1]);
    assert!(says(&three, "3 tempos:") && says(&three, "2 takes at 12"));
    let sought = |g: &&takegauge_review::LadderGroupRow| g.group != GroupKey::SameString;
    assert!(three.groups.iter().filter(sought).all(|g| g.comes_apart_bpm.is_none() && g.withheld.is_some()));
    assert_eq!(ladder(&[], 1), Err(SeveralError::NoTake));
}

#[test]
fn takes_of_other_lines_make_no_ladder() {
    let mut t = takes(&[100.0], apart);
    t.push(scored(&drill("6:3 6:5", 120.0, 20), &Player::default()));
    assert!(matches!(ladder(&t, 1), Err(SeveralError::OtherDrill { .. })));
}

#[test]
fn a_return_to_the_first_tempo_settles_tiredness() {
    let report = ladder(&takes(&[90.0, 120.0, 150.0, 90.0], apart), 1).unwrap();
    assert!(says(&report, "Back at the first tempo") && says(&report, "no tiredness shows"), "{:?}", report.remarks);
}

#[test]
fn what_came_back_after_a_rest() {
    let d = drill("2:5 2:5 2:5 2:5", 150.0, 60);
    let tired = |seed| scored(&d, &Player { seed, spread: Millis(3.0), fatigue: 3.0, ..Player::default() });
    let reports = [tired(1), tired(2), tired(3)];
    let take = |k: usize, rest, warm_up| SessionTake { report: &reports[k], rest_before_s: rest, warm_up };
    let s = session(&[take(0, None, true), take(1, Some(60.0), false), take(2, Some(180.0), false)]).unwrap();
    // The rest after the warm-up take is not compared.
    assert_eq!(s.rests.len(), 1);
    let rest = &s.rests[0];
    assert!(rest.spread_ratio.ci95.is_some_and(|c| c[1] < 1.0), "{rest:?}");
    assert!(rest.text.starts_with("After 3 minutes the scatter has come back"), "{}", rest.text);
    assert!(s.remarks.iter().any(|r| r.contains("warm up")) && s.spread_a_take_ms.withheld.is_some());
    assert!(s.cautions[0].contains("numbness"));
}
