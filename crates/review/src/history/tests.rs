//! Made-up histories through the public functions.

use super::*;
use crate::declared::{BIAS, EVENNESS, MARGIN, N, REACHED, SPREAD};
use crate::{Figures, GroupKey, Value};
use takegauge_stats::Seeded;

fn scatter(ms: f64) -> Value {
    Value::number(Some(ms)).within([Some(ms - 1.0), Some(ms + 1.0)])
}

fn point(take: i64, day: i32, tempo_bpm: f64, spread: f64) -> TakePoint {
    TakePoint {
        take,
        day,
        date: format!("day {day}"),
        tempo_bpm,
        picked_best: Some(false),
        take_errors: 0,
        take_notes: 100,
        figures: Figures::default()
            .with(&N, Value::count(40))
            .with(&REACHED, Value::count(40))
            .with(&SPREAD, scatter(spread))
            .with(&MARGIN, Value::number(Some(3.0))),
    }
}

fn series(metric: Metric, points: &[TakePoint]) -> Series<'_> {
    Series { group: GroupKey::Change, label: "string changes", metric, points }
}

#[test]
fn a_day_is_one_value_and_the_best_tempo_is_the_days_highest() {
    let mut points =
        vec![point(1, 5, 150.0, 3.0), point(2, 5, 160.0, 9.0), point(3, 5, 155.0, 4.0), point(4, 6, 170.0, 5.0)];
    points[3].take_errors = 2;
    let days = by_day(Metric::SPREAD, &points);
    assert_eq!(days.iter().map(|d| (d.value, d.takes)).collect::<Vec<_>>(), [(4.0, 3), (5.0, 1)]);
    let clean = by_day(Metric::CleanTempo, &points);
    assert_eq!(clean.iter().map(|d| d.value).collect::<Vec<_>>(), [160.0]);
}

#[test]
fn the_usual_tempo_has_the_most_days_about_it() {
    let days: Vec<TakePoint> =
        (0..9).map(|d| point(d.into(), d, if d < 4 { 120.0 } else { 160.0 + f64::from(d) }, 3.0)).collect();
    assert_eq!(usual_tempo(&days), Some(166.0));
    assert_eq!(usual_tempo(&[]), None);
}

#[test]
fn what_cannot_be_followed_is_withheld_with_the_reason() {
    let few: Vec<TakePoint> = (0..7).map(|d| point(d.into(), d, 160.0, 3.0 + f64::from(d))).collect();
    let report = trend("Ada", "Threes", Some([153.6, 166.4]), &[series(Metric::SPREAD, &few)]);
    assert!(
        report.rows[0].fit.is_none() && report.rows[0].text.contains("7 practice days so far"),
        "{:?}",
        report.rows[0]
    );
    let flat: Vec<TakePoint> = (0..12).map(|d| point(d.into(), d, 160.0, 3.0)).collect();
    let report = trend("Ada", "Threes", None, &[series(Metric::SPREAD, &flat), series(Metric::BIAS, &flat)]);
    assert!(report.rows[0].text.contains("all 12 practice days have the same value, 3"), "{}", report.rows[0].text);
    let told = &report.rows[1].text;
    assert!(told.contains(": not told by any take of 12 practice days so far; "), "{told}");
    let mut some = flat.clone();
    some[3].take_errors = 1;
    let report = trend("Ada", "Threes", None, &[series(Metric::CleanTempo, &some[3..4])]);
    assert!(report.rows[0].text.contains("no take without an error on 1 practice day so far"), "{:?}", report.rows[0]);
    for p in &mut some[5..] {
        p.figures.set(&SPREAD, Value::default());
    }
    let report = trend("Ada", "Threes", None, &[series(Metric::SPREAD, &some)]);
    assert!(report.rows[0].text.contains("told on 5 of 12 practice days so far"), "{:?}", report.rows[0]);
}

#[test]
fn no_tempo_is_said_to_change_by_more_than_there_is_of_it() {
    let wild: Vec<TakePoint> =
        (0..8).map(|d| point(d.into(), d * d, if d % 3 == 0 { 70.0 } else { 180.0 }, 3.0)).collect();
    let report = trend("Ada", "Threes", None, &[series(Metric::CleanTempo, &wild)]);
    let row = &report.rows[0];
    assert!(row.fit.as_ref().unwrap().smallest_change_shown > 100.0, "{row:?}");
    assert!(
        row.text.ends_with("These days are too few, or differ too much, to show even a change by half."),
        "{row:?}"
    );
}

#[test]
fn the_question_stands_alone_and_the_others_are_corrected() {
    let mut rng = Seeded::new(4);
    let points: Vec<TakePoint> = (0..24)
        .map(|d| {
            let mut p = point(d.into(), d * 2, 160.0, 9.0 - 0.2 * f64::from(d) + 0.5 * rng.normal());
            let even = Value::number(Some(12.0 - 0.2 * f64::from(d) + 0.5 * rng.normal()));
            p.figures = p.figures.with(&EVENNESS, even).with(&BIAS, Value::number(Some(rng.normal())));
            p.picked_best = Some(d == 3);
            p
        })
        .collect();
    let asked = [Metric::SPREAD, Metric::Figure(&EVENNESS), Metric::BIAS].map(|m| series(m, &points));
    let report = trend("Ada", "Threes", None, &asked);
    let fits: Vec<&LineFit> = report.rows.iter().filter_map(|r| r.fit.as_ref()).collect();
    assert_eq!(fits.iter().map(|f| f.p_adjusted.is_some()).collect::<Vec<_>>(), [false, true, true]);
    // Holm: the smaller of two p-values is doubled, and none falls below the one before.
    let doubled = (2.0 * fits[1].p).min(1.0);
    assert!((fits[1].p_adjusted.unwrap() - doubled).abs() < 2e-4 && fits[2].p_adjusted >= fits[1].p_adjusted);
    assert_eq!(fits[0].verdict, Verdict::Change);
    assert!((fits[0].slope_a_week + 0.7).abs() < 0.1 && fits[0].change < -4.0, "{:?}", fits[0]);
    assert_eq!(report.remarks.len(), 1);
    assert!(report.remarks[0].contains("1 of 24 takes was") && report.remarks[0].contains("flatter"));
    let unsaid: Vec<TakePoint> = points.iter().map(|p| TakePoint { picked_best: None, ..p.clone() }).collect();
    let report = trend("Ada", "Threes", None, &[series(Metric::SPREAD, &unsaid)]);
    assert!(report.remarks[0].contains("nobody said") && report.remarks[0].contains("flatter"), "{:?}", report.remarks);
}

#[test]
fn unchanged_pairs_of_takes_are_rarely_called_different() {
    // Takes differ by an SD of 2 ms on their own; each is known to 0.5 ms. From within a take alone two of three unchanged
    // pairs would be called different.
    let mut rng = Seeded::new(8);
    let runs = 600;
    let called = (0..runs)
        .filter(|_| {
            let points: Vec<TakePoint> = (0..30)
                .map(|k| {
                    let mut p = point(k, k as i32, 160.0, 20.0 + 2.0 * rng.normal());
                    let spread = p.figures.get(&SPREAD);
                    let ends = [spread.value.map(|s| s - 0.98), spread.value.map(|s| s + 0.98)];
                    p.figures = p.figures.with(&SPREAD, spread.within(ends)).with(&REACHED, Value::count(0));
                    p
                })
                .collect();
            let group = GroupHistory { group: GroupKey::Change, label: "string changes".into(), points };
            let report = compare(&[28], &[29], &[group]);
            assert_eq!(report.rows.len(), 1);
            report.rows[0].p_adjusted.unwrap() <= 0.05
        })
        .count();
    // Four standard errors above 5 %.
    assert!((called as f64 / runs as f64) < 0.05 + 4.0 * (0.05f64 * 0.95 / runs as f64).sqrt(), "{called} of {runs}");
}

#[test]
fn sets_at_other_tempos_are_told() {
    let points: Vec<TakePoint> =
        (0..8).map(|k| point(k, k as i32, if k < 4 { 140.0 } else { 160.0 }, 4.0 + k as f64)).collect();
    let group = GroupHistory { group: GroupKey::Change, label: "string changes".into(), points };
    let report = compare(&[0, 1], &[6, 7], &[group]);
    assert!(report.text.iter().any(|t| t.contains("140 and 160 bpm")), "{:?}", report.text);
    let none = compare(&[0], &[1], &[]);
    assert_eq!(none.text, ["Cannot tell: the takes share no group of notes."]);
}

#[test]
fn a_drill_goes_up_after_two_good_days_and_the_longest_rest_comes_first() {
    let fresh = Practised {
        player: "Ada".into(),
        drill: "rolls".into(),
        points: (0..3).map(|d| point(d.into(), d, 150.0, 3.0)).collect(),
        kinds: Vec::new(),
    };
    let mut rested = Practised { drill: "threes".into(), ..fresh.clone() };
    for p in &mut rested.points {
        p.day -= 10;
        p.figures = p.figures.clone().with(&MARGIN, Value::number(Some(1.0)));
    }
    let report = plan(&[fresh, rested], &[], 3, "day 3");
    let told: Vec<_> = report.lines.iter().map(|l| (l.drill.as_str(), l.due, l.next_tempo_bpm)).collect();
    assert_eq!(told, [("threes", true, None), ("rolls", false, Some(156.0))]);
    assert!(report.cautions[0].contains("numbness") && plan(&[], &[], 0, "day 0").lines.is_empty());
}

/// Eight weeks of three practice days: kinds of change, each with lateness and scatter, noise from day to day.
fn eight_weeks(seed: u64, inside_ms_a_week: f64) -> Vec<GroupHistory> {
    use takegauge_drill::ChangeKind::{Inside, Outside};
    let mut rng = Seeded::new(seed);
    let kinds = [
        (GroupKey::Change, "string changes", 0.4),
        (GroupKey::Kind(Inside), "inside changes", 1.0),
        (GroupKey::Kind(Outside), "outside changes", 0.0),
        (GroupKey::SameString, "notes on the same string", 0.0),
        (GroupKey::WholeTake, "all notes", 0.0),
    ];
    let days: Vec<i32> = (0..8).flat_map(|w| [7 * w, 7 * w + 2, 7 * w + 5]).collect();
    kinds
        .iter()
        .map(|(group, label, share)| {
            let points = days
                .iter()
                .map(|day| {
                    let mut p = point((*day).into(), *day, 160.0, 6.0 + 0.8 * rng.normal());
                    let late = 18.0 - inside_ms_a_week * f64::from(*day) / 7.0;
                    let bias = share * late + 2.0 * rng.normal();
                    let ends = [Some(bias - 1.5), Some(bias + 1.5)];
                    p.figures.set(&BIAS, Value::number(Some(bias)).within(ends));
                    p.date = format!("day {day}");
                    p
                })
                .collect();
            GroupHistory { group: *group, label: (*label).to_owned(), points }
        })
        .collect()
}

/// Histories in which something is told to have changed, and in which it is the lateness of inside changes.
fn told_of(histories: u64, ms_a_week: f64) -> (usize, usize) {
    let told: Vec<String> = (0..histories)
        .map(|seed| {
            let all = eight_weeks(seed, ms_a_week);
            what_changed("Ada", "Threes", None, &all, &all[4].points).headline
        })
        .collect();
    let inside = told.iter().filter(|h| h.starts_with("Inside changes come less late")).count();
    (told.iter().filter(|h| !h.starts_with("No change")).count(), inside)
}

#[test]
fn a_player_who_improves_is_told_so_first() {
    let (_, inside) = told_of(500, 1.5);
    assert!(inside >= 450, "{inside} of 500");
}

#[test]
fn unchanged_players_are_seldom_told_of_a_change() {
    let (any, _) = told_of(500, 0.0);
    // 5 % of 500 is 25, a standard error of 4.9.
    assert!(any <= 35, "{any} of 500");
}

#[test]
fn the_plan_names_the_change_to_work_on_and_since_when() {
    let kinds = eight_weeks(3, 0.0);
    let points = kinds[0].points.clone();
    let drill = Practised { player: "Ada".into(), drill: "Threes".into(), points, kinds };
    let report = plan(&[drill], &[], 55, "day 55");
    let line = &report.lines[0];
    assert!(line.what.starts_with("Threes: work on inside changes, from "), "{line:?}");
    assert!(line.why.contains("late on average") && line.why.contains("since day 0"), "{line:?}");
    assert!(line.start_bpm.is_some_and(|t| (80.0..160.0).contains(&t)), "{line:?}");
}

#[test]
fn what_does_not_differ_is_told_in_one_sentence() {
    let all = eight_weeks(4, 0.0);
    let report = compare(&[0, 2, 5], &[49, 51, 54], &all);
    assert!(report.text[0].starts_with("No difference is shown: lateness, scatter and errors of"), "{:?}", report.text);
    assert!(report.text[1].contains("would most likely have been seen"), "{:?}", report.text);
    let row = report.rows.iter().find(|r| r.measure == Metric::SPREAD).unwrap();
    let (first, ci) = (row.first.unwrap(), row.first_ci95.unwrap());
    assert!(ci[0] < first && first < ci[1] && row.second_ci95.is_some(), "{row:?}");
}
