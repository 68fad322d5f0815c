//! Published examples and simulated histories.

use super::*;
use crate::random::Seeded;
use proptest::prelude::*;

const EPA_DATES: [f64; 10] = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3];
const EPA_SODIUM: [f64; 10] = [56.0, 53.0, 51.0, 55.0, 52.0, 60.0, 62.0, 59.0, 61.0, 63.0];

fn s(v: &[f64]) -> Sample<'_> {
    Sample::new(v).unwrap()
}

#[test]
fn usepa_2009_example_17_7_to_every_printed_digit() {
    // USEPA (2009), Unified Guidance, EPA 530/R-09-007, p. 17-36, figures as printed by EnvStats.
    let test = mann_kendall(s(&EPA_SODIUM)).unwrap();
    assert_eq!((test.s, test.variance), (25.0, 125.0));
    assert_eq!(format!("{:.7} {:.6} {:.8}", test.tau, test.z, test.p_normal), "0.5555556 2.146625 0.03182313");
    let line = theil_sen(s(&EPA_DATES), s(&EPA_SODIUM), 0.95, 1.0).unwrap();
    assert_eq!(format!("{:.7} {:.7}", line.slope.value, line.intercept), "1.3333333 -65.9666667");
    let i = line.slope.interval;
    assert_eq!(format!("{:.7} {:.7}", i.low, i.high), "0.3992083 2.3333333");
}

#[test]
fn sen_1968_own_example() {
    // Sen (1968): 93 % interval 3.71 to 4.38, slope 4.
    let x = [1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0];
    let y = [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0];
    let line = theil_sen(s(&x), s(&y), 0.93, 1.0).unwrap();
    assert_eq!((line.slope.value, line.intercept, line.median_residual_intercept), (4.0, 4.0, 6.0));
    assert_eq!((line.sen_interval.low, line.sen_interval.high), (26.0 / 7.0, 4.375));
    let test = mann_kendall(s(&y)).unwrap();
    assert_eq!(test.s, 21.0);
    assert!((test.variance - 44.333_333_333_333_336).abs() < 1e-12);
    assert_eq!(format!("{:.5} {:.7}", test.z, test.p_normal), "3.00376 0.0026667");
}

#[test]
fn exact_tails_by_enumeration() {
    // Gilbert (1987), ch. 16: 10, 15, 14, 20 gives S = 4 and a one-sided p of 0.167; the rest counted over all orders.
    let test = mann_kendall(s(&[10.0, 15.0, 14.0, 20.0])).unwrap();
    assert_eq!(test.s, 4.0);
    assert!((test.p_exact.unwrap() / 2.0 - 4.0 / 24.0).abs() < 1e-15);
    for (n, at_least, p) in [
        (4, 6.0, 0.0417),
        (5, 8.0, 0.0417),
        (6, 11.0, 0.0278),
        (6, 9.0, 0.0681),
        (8, 16.0, 0.0305),
        (8, 14.0, 0.0543),
        (10, 19.0, 0.0542),
    ] {
        assert!((upper_tail(n, at_least) - p).abs() < 5e-5, "n {n} S {at_least}: {}", upper_tail(n, at_least));
    }
    assert!((upper_tail(40, -780.0) - 1.0).abs() < 1e-12);
}

#[test]
fn ties_have_no_exact_p_and_a_smaller_variance() {
    let test = mann_kendall(s(&[1.0, 2.0, 2.0, 3.0, 5.0, 4.0])).unwrap();
    assert_eq!((test.p_exact, test.s), (None, 12.0));
    assert!((test.variance - (6.0 * 5.0 * 17.0 - 2.0 * 9.0) / 18.0).abs() < 1e-12);
}

#[test]
fn what_has_no_trend_to_test_is_an_error() {
    assert_eq!(mann_kendall(s(&[1.0, 1.0, 1.0])), Err(StatsError::NoSpread));
    assert_eq!(mann_kendall(s(&vec![1.0; 3001])), Err(StatsError::TooMany { most: 3000, got: 3001 }));
    assert!(theil_sen(s(&[1.0, 1.0, 2.0]), s(&[1.0, 2.0, 3.0]), 0.95, 1.0).is_err());
    assert!(theil_sen(s(&[1.0, 2.0, 3.0]), s(&[1.0, 2.0, 3.0]), 0.95, 0.5).is_err());
    assert!(trend(s(&[1.0, 2.0, 3.0, 4.0]), s(&[1.0, 2.0, 3.0, 4.0]), 0.95).is_err());
    // Exactly on a line: the slope is certain and nothing divides by 0.
    let t = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    let exact = trend(s(&t), s(&t), 0.95).unwrap();
    assert_eq!((exact.line.slope.value, exact.residual_sd, exact.variance_factor), (1.0, 0.0, 1.0));
}

/// Share of `runs` simulated 8-week histories called changed: practice on `weekdays`, day noise of SD 2 with lag-1
/// autocorrelation `rho`, a change of `slope` a week.
fn called_changed(weekdays: &[f64], rho: f64, slope: f64, runs: usize, seed: u64) -> f64 {
    let t: Vec<f64> = (0..8).flat_map(|w| weekdays.iter().map(move |d| f64::from(w) + d / 7.0)).collect();
    let mut rng = Seeded::new(seed);
    let called = (0..runs)
        .filter(|_| {
            let mut noise = rng.normal();
            let y: Vec<f64> = t
                .iter()
                .map(|t| {
                    let value = 20.0 - slope * t + 2.0 * noise;
                    noise = rho * noise + (1.0 - rho * rho).sqrt() * rng.normal();
                    value
                })
                .collect();
            trend(s(&t), s(&y), 0.95).unwrap().p < 0.05
        })
        .count();
    called as f64 / runs as f64
}

const FOUR_DAYS: [f64; 4] = [0.0, 2.0, 4.0, 6.0];

#[test]
fn an_unchanging_player_is_rarely_called_changed() {
    // Standard error at 2,000 runs: 0.005 and 0.006.
    let independent = called_changed(&FOUR_DAYS, 0.0, 0.0, 2000, 1);
    assert!(independent <= 0.05, "{independent}");
    for days in [&FOUR_DAYS[..], &FOUR_DAYS[..3], &FOUR_DAYS[..2]] {
        let alike = called_changed(days, 0.3, 0.0, 2000, 2);
        assert!(alike <= 0.08, "{alike} at {} days a week", days.len());
    }
}

#[test]
fn half_a_millisecond_a_week_is_found_on_four_days_a_week() {
    let power = called_changed(&FOUR_DAYS, 0.0, 0.5, 2000, 3);
    assert!(power >= 0.80, "{power}");
    let two_days = called_changed(&[0.0, 3.0], 0.0, 0.5, 1000, 4);
    assert!(two_days > 0.40 && two_days < power, "{two_days}");
}

#[test]
fn the_smallest_detectable_change_is_found_in_about_80_of_100() {
    let t: Vec<f64> = (0..24).map(f64::from).collect();
    let about_mean = raw_sum_of_squares(&t);
    let change = 2.80 * 23.0 / (0.955 * about_mean).sqrt();
    let mut rng = Seeded::new(9);
    let found = (0..600)
        .filter(|_| {
            let y: Vec<f64> = t.iter().map(|t| change * t / 23.0 + rng.normal()).collect();
            mann_kendall(s(&y)).unwrap().p_exact.unwrap() < 0.05
        })
        .count();
    // Four standard errors: 0.065.
    assert!((found as f64 / 600.0 - 0.80).abs() < 0.065, "{found}");
}

#[test]
fn steady_is_more_than_not_proven() {
    let t: Vec<f64> = (0..30).map(f64::from).collect();
    let mut rng = Seeded::new(12);
    let quiet: Vec<f64> = t.iter().map(|_| 0.3 * rng.normal()).collect();
    let noisy: Vec<f64> = t.iter().map(|_| 9.0 * rng.normal()).collect();
    assert!(is_steady(&trend(s(&t), s(&quiet), 0.95).unwrap(), s(&t), 2.0));
    assert!(!is_steady(&trend(s(&t), s(&noisy), 0.95).unwrap(), s(&t), 2.0));
}

proptest! {
    #[test]
    fn slopes_lie_in_their_intervals(y in prop::collection::vec(-1e6f64..1e6, 5..40)) {
        let t: Vec<f64> = (0..y.len()).map(|k| k as f64).collect();
        let r = trend(s(&t), s(&y), 0.95).unwrap();
        prop_assert!(r.line.slope.interval.holds(r.line.slope.value) && r.line.sen_interval.holds(r.line.slope.value));
        prop_assert!((0.0..=1.0).contains(&r.p) && r.variance_factor >= 1.0 && r.smallest_detectable_change >= 0.0);
    }
}
