//! How true the time is that a string rings over: from sound to finding, on takes of guitars that are drawn anew.
//!
//!     cargo run --release -p takegauge-take --example ringing > reports/ringing.md
//!
//! Seeded: the same figures on every run of one machine. After `--`: draws a length, and the number of the first guitar
//! (what is chosen is chosen on guitars from 10,000 on, what is told is told of those from 1 on).

use std::error::Error;
use std::path::Path;
use takegauge_audio::{WavFormat, write_wav};
use takegauge_drill::{ChangeKind, Drill};
use takegauge_pluck::{Guitar, Player, Selector, Sound, perform, render, scenes};
use takegauge_review::declared::SMEAR;
use takegauge_review::{GroupKey, Measure};
use takegauge_take::{Request, score};
use takegauge_units::Millis;

const DRAWS: usize = 24;
/// Planted lengths, ms; the other strings stop after `USUAL`.
const PLANTED: [f64; 8] = [40.0, 50.0, 65.0, 85.0, 105.0, 130.0, 160.0, 200.0];
const USUAL: f64 = 20.0;
/// Which changes ring over, and in which scene's drill.
const CASES: [(&str, GroupKey, Selector); 2] = [
    ("late_one_pair", GroupKey::Pair(3, 2), Selector::Pair { from: 3, to: 2 }),
    ("late_inside", GroupKey::Kind(ChangeKind::Inside), Selector::Kind(ChangeKind::Inside)),
];

/// What one take says of the group: the finding's value and interval, else the group's figure alone.
struct Read {
    told: Option<(f64, Option<[f64; 2]>)>,
    figure: Option<f64>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let draws = args.next().map_or(Ok(DRAWS), |n| n.parse())?;
    let first: u64 = args.next().map_or(Ok(1), |n| n.parse())?;
    println!(
        "# How long a string rings over\n\n\
         Made by `cargo run --release -p takegauge-take --example ringing`; seeded. {draws} takes a row, each of a guitar \
         drawn by itself from number {first} on; each is rendered by the string model, listened to and scored. The changes \
         named ring over for the planted time until they are 20 dB down, all others for {USUAL:.0} ms (less than can be \
         told).\n\n\
         Wanted: a finding's 95 % interval holds the planted time in 90 % of the takes at the least.\n\n\
         | changes | planted | told | value less planted: median | its middle 90 % | interval holds it | half an \
         interval, median |\n|---|---|---|---|---|---|---|"
    );
    let (mut held, mut told) = (0, 0);
    for (scene, group, selector) in CASES {
        for planted in PLANTED {
            let reads = takes(scene, group, &selector, planted, draws, first)?;
            let found: Vec<(f64, [f64; 2])> =
                reads.iter().filter_map(|r| r.told).filter_map(|(v, c)| Some((v, c?))).collect();
            let mut errors: Vec<f64> = reads.iter().filter_map(|r| r.figure).map(|v| v - planted).collect();
            errors.sort_by(f64::total_cmp);
            let mut widths: Vec<f64> = found.iter().map(|(_, [a, b])| 0.5 * (b - a)).collect();
            widths.sort_by(f64::total_cmp);
            let at = |v: &[f64], q: f64| v.get((q * v.len() as f64) as usize).copied().unwrap_or(f64::NAN);
            let holds = found.iter().filter(|(_, [a, b])| *a <= planted && planted <= *b).count();
            (held, told) = (held + holds, told + found.len());
            let percent = match found.len() {
                0 => "-".to_owned(),
                n => format!("{:.0} %", 100.0 * holds as f64 / n as f64),
            };
            let width = if widths.is_empty() { "-".to_owned() } else { format!("{:.1} ms", at(&widths, 0.5)) };
            println!(
                "| {group} | {planted:.0} ms | {} of {draws} | {:+.1} ms | {:+.1} to {:+.1} ms | {percent} | {width} |",
                reads.iter().filter(|r| r.told.is_some()).count(),
                at(&errors, 0.5),
                at(&errors, 0.05),
                at(&errors, 0.95),
            );
        }
    }
    println!(
        "\nOver all: the interval holds the planted time in {:.1} % of {told} findings.",
        100.0 * f64::from(held as u32) / told.max(1) as f64
    );
    Ok(())
}

fn takes(
    scene: &str,
    group: GroupKey,
    selector: &Selector,
    planted: f64,
    draws: usize,
    first: u64,
) -> Result<Vec<Read>, Box<dyn Error>> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let mut all: Vec<(usize, Read)> = std::thread::scope(|s| {
        let share = |t: usize| -> Result<Vec<(usize, Read)>, String> {
            let file = std::env::temp_dir().join(format!("takegauge-ringing-{}-{t}.wav", std::process::id()));
            let mut out = Vec::new();
            for draw in (t..draws).step_by(threads) {
                let seed = first + draw as u64;
                out.push((draw, one(scene, group, *selector, planted, seed, &file).map_err(|e| e.to_string())?));
            }
            if draws > t {
                std::fs::remove_file(&file).map_err(|e| e.to_string())?;
            }
            Ok(out)
        };
        let running: Vec<_> = (0..threads).map(|t| s.spawn(move || share(t))).collect();
        running.into_iter().map(|r| r.join().map_err(|_| "a thread stopped".to_owned())?).collect::<Result<Vec<_>, _>>()
    })?
    .into_iter()
    .flatten()
    .collect();
    all.sort_by_key(|(draw, _)| *draw);
    Ok(all.into_iter().map(|(_, read)| read).collect())
}

fn one(
    scene: &str,
    group: GroupKey,
    selector: Selector,
    planted: f64,
    seed: u64,
    file: &Path,
) -> Result<Read, Box<dyn Error>> {
    let scene = scenes::by_name(scene).ok_or("no such scene")?;
    let drill = Drill { repeats: 8, ..scene.drill.clone() };
    let player = Player {
        seed,
        ring: Millis(USUAL),
        smears: vec![(selector, Millis(planted - USUAL))],
        biases: Vec::new(),
        loose: Vec::new(),
        ..scene.player.clone()
    };
    let sound = Sound { guitar: Guitar::Drawn(u32::try_from(seed)?), ..scene.sound.clone() };
    let rendered = render(&perform(&drill, &player), &sound);
    write_wav(file, rendered.rate, 1, WavFormat::Float32, &rendered.samples)?;
    let report = score(&Request::new(file, &drill), &())?;
    let told =
        report.findings.iter().find(|f| f.group == group && f.measure == Measure::Smear).map(|f| (f.value, f.ci95));
    let figure = report.groups.iter().find(|g| g.group == group).and_then(|g| g.figures.value(&SMEAR));
    Ok(Read { told, figure })
}
