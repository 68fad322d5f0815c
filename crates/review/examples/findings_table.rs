//! Regenerates `reports/findings.md`: false alarms, power and who is named, on simulated takes with exact answers.
//!
//! `cargo run --release -p takegauge-review --example findings_table -- reports/findings.md`

#[path = "../tests/support/mod.rs"]
mod support;

use std::error::Error;
use std::fmt::Write as _;
use support::{THREE_PER_STRING, drill, scored};
use takegauge_drill::{ChangeKind, Stroke};
use takegauge_pluck::{Player, Selector};
use takegauge_review::{FindingRow, GroupKey, Measure, ScoreReport};
use takegauge_units::Millis;

/// Takes behind each rate of false alarms, and behind each cell of a table of power.
const TAKES: u64 = 400;
const TAKES_A_CELL: u64 = 100;

const COMMAND: &str = "cargo run --release -p takegauge-review --example findings_table -- reports/findings.md";

/// Whether a group speaks of a kind of change, not of one pair, string, stroke or place.
fn is_kind_of_change(group: GroupKey) -> bool {
    group.is_change() && !matches!(group, GroupKey::Pair(..) | GroupKey::OneNoteRun)
}
fn main() -> Result<(), Box<dyn Error>> {
    let mut out = String::new();
    writeln!(out, "# How sure the findings are\n")?;
    writeln!(
        out,
        "Simulated takes with exact answers (the `pluck` room's player, 0.5 ms of detector error added), scored by the \
         `review` room. Seeds 1, 2, 3 ...; made by\n\n    {COMMAND}\n\nUnless another line is named it is three notes a \
         string, up and back, sixteenths at 170 bpm, scatter SD 4 ms. Ladders: reports/ladder.md.\n"
    )?;
    false_alarms(&mut out)?;
    power_of_bias(&mut out)?;
    power_of_spread(&mut out)?;
    naming(&mut out)?;
    match std::env::args().nth(1) {
        Some(path) => std::fs::write(path, out)?,
        None => print!("{out}"),
    }
    Ok(())
}

fn is_timing(f: &FindingRow) -> bool {
    matches!(f.measure, Measure::Bias | Measure::Spread)
}

fn clean(seed: u64) -> Player {
    Player { seed, ..Player::default() }
}

fn percent(k: usize, n: u64) -> String {
    format!("{k} ({:.1} %)", 100.0 * k as f64 / n as f64)
}

fn false_alarms(out: &mut String) -> std::fmt::Result {
    writeln!(out, "## False alarms: takes in which nothing is wrong\n")?;
    writeln!(out, "Six repeats (204 notes), {TAKES} takes each.\n")?;
    writeln!(out, "| takes | any finding | a timing finding | a kind of change named |")?;
    writeln!(out, "|---|---|---|---|")?;
    let line = drill(THREE_PER_STRING, 170.0, 6);
    let cases: [(&str, &dyn Fn(u64) -> Player); 3] = [
        ("no fault", &clean),
        ("5 % slips of 20 to 40 ms", &|s| Player { slips: 0.05, slip_size: Millis(20.0), ..clean(s) }),
        ("repeatable offsets by place, SD 1.5 ms", &|s| Player { place_spread: Millis(1.5), ..clean(s) }),
    ];
    for (name, player) in cases {
        let mut counts = [0; 3];
        for seed in 1..=TAKES {
            let r = scored(&line, &player(seed));
            counts[0] += usize::from(!r.findings.is_empty());
            counts[1] += usize::from(r.findings.iter().any(is_timing));
            let kind = |f: &&FindingRow| is_timing(f) && is_kind_of_change(f.group);
            counts[2] += usize::from(r.findings.iter().any(|f| kind(&f)));
        }
        let [a, b, c] = counts.map(|k| percent(k, TAKES));
        writeln!(out, "| {name} | {a} | {b} | {c} |")?;
    }
    writeln!(
        out,
        "\nOffsets by place are real differences: what is told of them is told of single notes of the line, not of a \
         kind of change.\n"
    )
}

/// Takes of a cell whose first timing finding is of `group` (as its name or as one that fits as well) and `measure`.
fn named(repeats: u32, player: impl Fn(u64) -> Player, group: GroupKey, measure: Measure) -> usize {
    let line = drill(THREE_PER_STRING, 170.0, repeats);
    let hit = |r: &ScoreReport| {
        let first = r.findings.iter().find(|f| is_timing(f));
        first.is_some_and(|f| f.measure == measure && (f.group == group || f.or_also.contains(&group)))
    };
    (1..=TAKES_A_CELL).filter(|seed| hit(&scored(&line, &player(*seed)))).count()
}

const INSIDE: Selector = Selector::Kind(ChangeKind::Inside);
const INSIDE_CHANGES: GroupKey = GroupKey::Kind(ChangeKind::Inside);
/// Repeats of the line, with the number of inside changes they hold (four a repeat).
const REPEATS: [(u32, u32); 4] = [(2, 8), (4, 16), (7, 28), (12, 48)];

fn header(out: &mut String, first: &str) -> std::fmt::Result {
    let n: Vec<String> = REPEATS.iter().map(|(_, n)| format!("n = {n}")).collect();
    writeln!(out, "| {first} | {} |", n.join(" | "))?;
    writeln!(out, "|---|{}", "---|".repeat(REPEATS.len()))
}

fn power_of_bias(out: &mut String) -> std::fmt::Result {
    writeln!(out, "## Power: inside changes late\n")?;
    writeln!(out, "Share of {TAKES_A_CELL} takes whose first timing finding is the inside changes' bias.\n")?;
    header(out, "late by")?;
    for ms in [3.0, 5.0, 8.0, 12.0] {
        let player = |seed| Player { biases: vec![(INSIDE, Millis(ms))], ..clean(seed) };
        let cells: Vec<String> =
            REPEATS.iter().map(|(r, _)| format!("{} %", named(*r, player, INSIDE_CHANGES, Measure::Bias))).collect();
        writeln!(out, "| {ms:.0} ms | {} |", cells.join(" | "))?;
    }
    writeln!(out)
}

fn power_of_spread(out: &mut String) -> std::fmt::Result {
    writeln!(out, "## Power: inside changes loose\n")?;
    writeln!(out, "Share of {TAKES_A_CELL} takes whose first timing finding is the inside changes' scatter.\n")?;
    header(out, "scatter, times the rest")?;
    for ratio in [1.5f64, 2.0, 3.0] {
        let more = 4.0 * (ratio * ratio - 1.0).sqrt();
        let player = |seed| Player { loose: vec![(INSIDE, Millis(more))], ..clean(seed) };
        let cells: Vec<String> =
            REPEATS.iter().map(|(r, _)| format!("{} %", named(*r, player, INSIDE_CHANGES, Measure::Spread))).collect();
        writeln!(out, "| {ratio} | {} |", cells.join(" | "))?;
    }
    writeln!(out)
}

fn naming(out: &mut String) -> std::fmt::Result {
    writeln!(out, "## Who is named\n")?;
    writeln!(
        out,
        "Seven repeats, {TAKES_A_CELL} takes each. \"By its name\" leaves out those where it only fits as well.\n"
    )?;
    writeln!(out, "| fault | named first | by its name alone | median estimate |")?;
    writeln!(out, "|---|---|---|---|")?;
    let cases = [
        ("inside changes 6 ms late", INSIDE, 6.0, INSIDE_CHANGES),
        ("outside changes 6 ms late", Selector::Kind(ChangeKind::Outside), 6.0, GroupKey::Kind(ChangeKind::Outside)),
        ("from string 3 to 2 10 ms late", Selector::Pair { from: 3, to: 2 }, 10.0, GroupKey::Pair(3, 2)),
        ("upstrokes 5 ms late", Selector::Stroke(Stroke::Up), 5.0, GroupKey::Stroke(Stroke::Up)),
        ("notes on string 4 5 ms late", Selector::String(4), 5.0, GroupKey::String(4)),
    ];
    let line = drill(THREE_PER_STRING, 170.0, 7);
    for (name, selector, ms, group) in cases {
        let (mut first, mut alone, mut values) = (0, 0, Vec::new());
        for seed in 1..=TAKES_A_CELL {
            let r = scored(&line, &Player { biases: vec![(selector, Millis(ms))], ..clean(seed) });
            let Some(f) = r.findings.iter().find(|f| is_timing(f)) else { continue };
            let own = f.group == group;
            first += usize::from(own || f.or_also.contains(&group));
            alone += usize::from(own && f.or_also.is_empty());
            values.extend(own.then_some(f.value));
        }
        values.sort_by(f64::total_cmp);
        let median = values.get(values.len() / 2).map_or("-".to_owned(), |v| format!("{v:.1} ms"));
        writeln!(out, "| {name} | {first} % | {alone} % | {median} |")?;
    }
    writeln!(out)
}
