//! Regenerates `reports/what_changed.md`: whether a player who gets better is told so in the first sentence, and how often one
//! who does not change is told of a change.
//!
//! `cargo run --release -p takegauge-review --example what_changed -- reports/what_changed.md`
//!
//! Seeded: the same figures on every run.

#[path = "../tests/support/mod.rs"]
mod support;

use std::error::Error;
use std::fmt::Write as _;
use support::{THREE_PER_STRING, drill, scored};
use takegauge_drill::{ChangeKind, Drill};
use takegauge_pluck::{Player, Selector};
use takegauge_review::GroupKey;
use takegauge_review::history::{GroupHistory, TakePoint, TrendReport, figures_of, what_changed};
use takegauge_stats::Seeded;
use takegauge_units::Millis;

const COMMAND: &str = "cargo run --release -p takegauge-review --example what_changed -- reports/what_changed.md";
/// Histories a row.
const HISTORIES: u64 = 500;
const WEEKS: i32 = 8;
/// Lateness of inside changes on the first day, ms.
const LATE: f64 = 18.0;
/// How much a player's lateness differs from day to day, SD, ms.
const DAY: f64 = 1.5;

fn days(a_week: i32) -> Vec<i32> {
    (0..WEEKS).flat_map(|w| (0..a_week).map(move |k| w * 7 + k * 7 / a_week)).collect()
}

/// One history: a take a day, played, scored and followed.
fn history(line: &Drill, a_week: i32, ms_a_week: f64, rho: f64, seed: u64) -> TrendReport {
    let mut rng = Seeded::stream(31, seed);
    let mut histories: Vec<GroupHistory> = Vec::new();
    let mut whole: Vec<TakePoint> = Vec::new();
    let mut noise = rng.normal();
    for (k, day) in days(a_week).into_iter().enumerate() {
        let late = LATE - ms_a_week * f64::from(day) / 7.0 + DAY * noise;
        noise = rho * noise + (1.0 - rho * rho).sqrt() * rng.normal();
        let player = Player {
            seed: 1 + seed * 1000 + k as u64,
            spread: Millis(4.0 * (0.1 * rng.normal()).exp()),
            tempo_factor: 1.0 + 0.005 * rng.normal(),
            biases: vec![(Selector::Kind(ChangeKind::Inside), Millis(late))],
            ..Player::default()
        };
        let report = scored(line, &player);
        for (group, label, figures) in figures_of(&report).filter(|(g, ..)| g.is_lasting()) {
            let point = TakePoint {
                take: k as i64,
                day,
                date: format!("day {day}"),
                tempo_bpm: report.timebase.tempo_bpm,
                picked_best: Some(false),
                take_errors: report.reliability.errors,
                take_notes: report.reliability.notes,
                figures,
            };
            if group == GroupKey::WholeTake {
                whole.push(point.clone());
            }
            match histories.iter_mut().find(|h| h.group == group) {
                Some(h) => h.points.push(point),
                None => histories.push(GroupHistory { group, label: label.to_owned(), points: vec![point] }),
            }
        }
    }
    what_changed("", "", None, &histories, &whole)
}

/// Histories told of a change, and those told first that inside changes come less late.
fn told(a_week: i32, ms_a_week: f64, rho: f64) -> (f64, f64) {
    let line = drill(THREE_PER_STRING, 160.0, 3);
    let threads = std::thread::available_parallelism().map_or(1, usize::from) as u64;
    let one = |seed: u64| {
        let headline = history(&line, a_week, ms_a_week, rho, seed).headline;
        let any = !headline.starts_with("No change");
        (u64::from(any), u64::from(headline.starts_with("Inside changes come less late")))
    };
    let share = |t: u64| (t..HISTORIES).step_by(threads as usize).map(one).fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
    // Each history has a seed of its own: the sums are the same on any number of threads.
    let (any, inside) = std::thread::scope(|s| {
        let running: Vec<_> = (0..threads).map(|t| s.spawn(move || share(t))).collect();
        running.into_iter().filter_map(|r| r.join().ok()).fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1))
    });
    let percent = |n: u64| 100.0 * n as f64 / HISTORIES as f64;
    (percent(any), percent(inside))
}

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args().nth(1).ok_or("give the file to write")?;
    let mut out = String::new();
    writeln!(
        out,
        "# What changed most, in simulated histories\n\nMade by `{COMMAND}`; seeded, so the same on every run. {HISTORIES} \
         histories a row, of {WEEKS} weeks with one take a practice day: three notes a string up and back, three times at \
         160 bpm, scatter SD 4 ms. Inside changes are {LATE:.0} ms late on the first day, from day to day by {DAY} ms (SD) \
         more or less. Every take is scored note by note with 0.5 ms of detector error; lateness, scatter, errors, ringing \
         and evenness of all kinds of note are followed at once, and the first sentence is read.\n\n\
         Wanted at three days a week: 1.5 ms a week less told in the first sentence in 90 %; an unchanged player told of \
         any change in at most 5 %.\n\n\
         | practice days a week | inside changes, ms a week | told first that they come less late | told of any change |\n\
         |---|---|---|---|"
    )?;
    for (a_week, ms_a_week, rho) in [(3, 1.5, 0.0), (2, 1.5, 0.0), (3, 0.0, 0.0), (3, 0.0, 0.3)] {
        let (any, inside) = told(a_week, ms_a_week, rho);
        let days = if rho > 0.0 { format!("{a_week}, neighbouring days alike ({rho})") } else { a_week.to_string() };
        writeln!(out, "| {days} | {:+.1} | {inside:.1} % | {any:.1} % |", -ms_a_week)?;
        std::fs::write(&path, &out)?;
    }
    Ok(())
}
