//! What the trend finds in simulated practice histories, and how often it cries wolf.
//!
//!     cargo run --release -p takegauge-review --example trend_power > reports/trend.md
//!
//! Eight weeks; day noise of SD 2 ms; one take a day. Seeded: the same figures on every run.

use takegauge_review::declared::SPREAD;
use takegauge_review::history::{Metric, Series, TakePoint, Verdict, trend};
use takegauge_review::{Figures, GroupKey, Value};
use takegauge_stats::Seeded;

const RUNS: usize = 10_000;
const WEEKS: i32 = 8;

/// Practice days of eight weeks at so many a week, spread over the week.
fn days(a_week: i32) -> Vec<i32> {
    (0..WEEKS).flat_map(|w| (0..a_week).map(move |k| w * 7 + k * 7 / a_week)).collect()
}

/// Share of histories that are called changed.
fn called(a_week: i32, rho: f64, ms_a_week: f64, seed: u64) -> f64 {
    let mut rng = Seeded::new(seed);
    let mut changed = 0;
    for _ in 0..RUNS {
        let mut noise = rng.normal();
        let mut points = Vec::new();
        for day in days(a_week) {
            let spread = 20.0 - ms_a_week * f64::from(day) / 7.0 + 2.0 * noise;
            noise = rho * noise + (1.0 - rho * rho).sqrt() * rng.normal();
            points.push(TakePoint {
                take: i64::from(day),
                day,
                date: String::new(),
                tempo_bpm: 160.0,
                picked_best: Some(false),
                take_errors: 0,
                take_notes: 100,
                figures: Figures::default().with(&SPREAD, Value::number(Some(spread))),
            });
        }
        let series =
            [Series { group: GroupKey::Change, label: "string changes", metric: Metric::SPREAD, points: &points }];
        let report = trend("", "", None, &series);
        changed += usize::from(report.rows[0].fit.as_ref().is_some_and(|f| f.verdict == Verdict::Change));
    }
    changed as f64 / RUNS as f64
}

fn main() {
    println!("# What a trend shows, in simulation\n");
    println!(
        "Eight weeks of practice, one value a day, day noise of SD 2 ms, {RUNS} simulated histories a figure (standard \
         error at most 0.5 per cent).\nMade by `cargo run --release -p takegauge-review --example trend_power`; seeded, \
         so the same on every run.\n\n\
         Wanted: found in at least 80 % at 4 days a week; an unchanging player called changed in at most 5 %, in at most \
         8 % where successive days resemble each other (lag-1 autocorrelation 0.3).\n"
    );
    println!("Scatter falls by 0.5 ms a week; successive days independent:\n");
    println!("| practice days a week | days | found |\n|---|---|---|");
    for a_week in 1..=7 {
        let power = called(a_week, 0.0, 0.5, 100 + a_week as u64);
        println!("| {a_week} | {} | {:.1} % |", days(a_week).len(), 100.0 * power);
    }
    println!("\nNothing changes; called changed all the same:\n");
    println!("| practice days a week | independent days | lag-1 autocorrelation 0.3 |\n|---|---|---|");
    for a_week in 1..=7 {
        let alone = called(a_week, 0.0, 0.0, 200 + a_week as u64);
        let alike = called(a_week, 0.3, 0.0, 300 + a_week as u64);
        println!("| {a_week} | {:.1} % | {:.1} % |", 100.0 * alone, 100.0 * alike);
    }
}
