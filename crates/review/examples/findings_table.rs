//! Regenerates `reports/findings.md`: false alarms, power and who is named, on simulated takes with exact answers.
//!
//! `cargo run --release -p takegauge-review --example findings_table -- reports/findings.md`

#[path = "../tests/support/mod.rs"]
mod support;

use std::fmt::Write as _;
use support::{THREE_PER_STRING, drill, scored};
use takegauge_drill::{ChangeKind, Drill};
use takegauge_pluck::{Player, Selector};
use takegauge_review::{FindingRow, ScoreReport};
use takegauge_units::Millis;

const TAKES: u64 = 400;

/// Groups that speak of a kind of change (not of one pair, string, stroke or place).
const KINDS: [&str; 12] = [
    "change",
    "inside",
    "outside",
    "sweep",
    "same-stroke",
    "leaves on up",
    "leaves on down",
    "toward 1",
    "away from 1",
    "adjacent",
    "skip",
    "one-note run",
];

fn is_timing(f: &FindingRow) -> bool {
    f.measure == "bias" || f.measure == "spread"
}

/// Takes of `TAKES` for which `says` holds.
fn count(drill: &Drill, player: impl Fn(u64) -> Player, says: impl Fn(&ScoreReport) -> bool) -> usize {
    (1..=TAKES).filter(|seed| says(&scored(drill, &player(*seed)))).count()
}

fn clean(seed: u64) -> Player {
    Player { seed, ..Player::default() }
}

fn named(report: &ScoreReport, group: &str, measure: &str) -> bool {
    let first = report.findings.iter().find(|f| is_timing(f));
    first.is_some_and(|f| f.measure == measure && (f.group == group || f.or_also.iter().any(|g| g == group)))
}

fn false_alarms(out: &mut String) {
    let line = drill(THREE_PER_STRING, 170.0, 6);
    let any = |r: &ScoreReport| !r.findings.is_empty();
    let timing = |r: &ScoreReport| r.findings.iter().any(is_timing);
    let kind = |r: &ScoreReport| r.findings.iter().any(|f| is_timing(f) && KINDS.contains(&f.group.as_str()));
    let slips = |seed| Player { slips: 0.05, slip_size: Millis(20.0), ..clean(seed) };
    let places = |seed| Player { place_spread: Millis(1.5), ..clean(seed) };
    let _ = writeln!(
        out,
        "| simulated takes | n | with any finding | with a timing finding | that name a kind of change |"
    );
    let _ = writeln!(out, "|---|---|---|---|---|");
    let mut row = |name: &str, player: &dyn Fn(u64) -> Player| {
        let counts = [count(&line, player, any), count(&line, player, timing), count(&line, player, kind)];
        let [a, b, c] = counts.map(|k| format!("{k} ({:.1} %)", 100.0 * k as f64 / TAKES as f64));
        let _ = writeln!(out, "| {name} | {TAKES} | {a} | {b} | {c} |");
    };
    row("no fault, SD 4 ms", &clean);
    row("5 % slips of 20 to 40 ms", &slips);
    row("repeatable offsets of SD 1.5 ms by place", &places);
}

fn main() {
    let mut out = String::new();
    false_alarms(&mut out);
    let line = drill(THREE_PER_STRING, 170.0, 6);
    let inside = Selector::Kind(ChangeKind::Inside);
    for ms in [3.0, 5.0, 8.0] {
        let k = count(
            &line,
            |seed| Player { biases: vec![(inside, Millis(ms))], ..clean(seed) },
            |r| named(r, "inside", "bias"),
        );
        let _ = writeln!(out, "inside +{ms}: {k} of {TAKES}");
    }
    print!("{out}");
}
