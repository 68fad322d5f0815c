//! Whether a fault is still named where notes are lost: from sound to finding, on takes of the string model.
//!
//!     cargo run --release -p takegauge-take --example slips > reports/slips.md
//!
//! Each take is a planted fault with one to five notes anywhere muffled (not sounded) or touched (an open string brushed
//! after them), rendered, listened to and scored as any recording is. Seeded: the same figures on every run of one
//! machine. A number after `--` asks for fewer draws.

use std::error::Error;
use std::path::Path;
use takegauge_audio::{WavFormat, write_wav};
use takegauge_drill::{ChangeKind, Drill, Stroke};
use takegauge_pluck::{Happens, Player, perform, render, scenes};
use takegauge_review::{AfterSlip, GroupKey, Measure, ScoreReport};
use takegauge_stats::Seeded;
use takegauge_take::{Request, score};

/// Draws a fault, where no number is given.
const DRAWS: usize = 200;

/// A planted fault: the scene, what is to be named, and how much.
struct Case {
    scene: &'static str,
    /// Any of these is the same finding: leaving strokes and directions can hold the same notes.
    groups: &'static [GroupKey],
    measure: Measure,
    planted: f64,
    /// Times through the line.
    repeats: u32,
}

const INSIDE: GroupKey = GroupKey::Kind(ChangeKind::Inside);

const CASES: [Case; 4] = [
    Case { scene: "late_inside", groups: &[INSIDE], measure: Measure::Bias, planted: 14.0, repeats: 7 },
    // sqrt(3^2 + 11.5^2) / 3
    Case { scene: "loose_inside", groups: &[INSIDE], measure: Measure::Spread, planted: 3.96, repeats: 7 },
    // Once in the line: a time through is a note, and 8 of them must be left for an interval.
    Case {
        scene: "late_one_pair",
        groups: &[GroupKey::Pair(3, 2)],
        measure: Measure::Bias,
        planted: 16.0,
        repeats: 12,
    },
    Case {
        scene: "uneven_strokes",
        groups: &[GroupKey::Stroke(Stroke::Up), GroupKey::Stroke(Stroke::Down)],
        measure: Measure::Bias,
        planted: 12.0,
        repeats: 7,
    },
];

#[derive(Default)]
struct Counts {
    named: usize,
    held: usize,
    assumed: usize,
    named_when_dropped: usize,
    error: f64,
}

impl Counts {
    fn add(&mut self, other: &Self) {
        self.named += other.named;
        self.held += other.held;
        self.assumed += other.assumed;
        self.named_when_dropped += other.named_when_dropped;
        self.error += other.error;
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let draws = std::env::args().nth(1).map_or(Ok(DRAWS), |n| n.parse())?;
    println!(
        "# A fault is named whatever is lost\n\n\
         Made by `cargo run --release -p takegauge-take --example slips`; seeded, so the same on every run. {draws} takes a \
         fault; in each one to five notes anywhere are muffled or, in every second \
         take, an open string is touched after them. Every take is rendered by the string model, listened to and scored.\n\n\
         Wanted: the planted fault named in 95 % of the takes, the planted value within its interval.\n\n\
         | fault | times through | planted | named | interval holds it | mean error of the value | notes after a slip, mean | named with \
         `--after-slip drop` |\n|---|---|---|---|---|---|---|---|"
    );
    for (k, case) in CASES.iter().enumerate() {
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        // Each take has a seed of its own: the sums are the same on any number of threads.
        let parts = std::thread::scope(|s| {
            let share = |t: usize| -> Result<Counts, String> {
                let file = std::env::temp_dir().join(format!("takegauge-slips-{}-{t}.wav", std::process::id()));
                let mut counts = Counts::default();
                for draw in (t..draws).step_by(threads) {
                    one(case, (k * DRAWS + draw) as u64, &file, &mut counts).map_err(|e| e.to_string())?;
                }
                std::fs::remove_file(&file).or_else(|e| if draws > t { Err(e.to_string()) } else { Ok(()) })?;
                Ok(counts)
            };
            let running: Vec<_> = (0..threads).map(|t| s.spawn(move || share(t))).collect();
            running
                .into_iter()
                .map(|r| r.join().map_err(|_| "a thread stopped".to_owned())?)
                .collect::<Result<Vec<_>, _>>()
        })?;
        let mut counts = Counts::default();
        for p in parts {
            counts.add(&p);
        }
        eprintln!("{}: done", case.scene);
        let percent = |n: usize, of: usize| 100.0 * n as f64 / of.max(1) as f64;
        let unit = if case.measure == Measure::Spread { "times" } else { "ms" };
        println!(
            "| {} | {} | {:.1} {unit} | {:.1} % | {:.1} % | {:+.2} {unit} | {:.0} | {:.1} % |",
            case.scene.replace('_', " "),
            case.repeats,
            case.planted,
            percent(counts.named, draws),
            percent(counts.held, counts.named),
            counts.error / counts.named.max(1) as f64,
            counts.assumed as f64 / draws.max(1) as f64,
            percent(counts.named_when_dropped, draws),
        );
    }
    Ok(())
}

fn one(case: &Case, seed: u64, file: &Path, counts: &mut Counts) -> Result<(), Box<dyn Error>> {
    let scene = scenes::by_name(case.scene).ok_or("no such scene")?;
    let drill = Drill { repeats: case.repeats, ..scene.drill.clone() };
    let notes = drill.grid().len();
    let mut rng = Seeded::stream(20, seed);
    let lost = Happens::At((0..1 + rng.index(5)).map(|_| rng.index(notes)).collect());
    let (missed, brushed) = if seed.is_multiple_of(2) { (lost, Happens::Never) } else { (Happens::Never, lost) };
    let player = Player { seed: 5000 + seed, missed, brushed, ..scene.player.clone() };
    let rendered = render(&perform(&drill, &player), &scene.sound);
    write_wav(file, rendered.rate, 1, WavFormat::Float32, &rendered.samples)?;
    let kept = score(&Request::new(file, &drill), &())?;
    counts.assumed += kept.summary.strokes_assumed;
    if let Some((value, [low, high])) = found(&kept, case) {
        counts.named += 1;
        counts.held += usize::from(low <= case.planted && case.planted <= high);
        counts.error += value - case.planted;
    }
    let dropped = score(&Request { after_slip: AfterSlip::Drop, ..Request::new(file, &drill) }, &())?;
    counts.named_when_dropped += usize::from(found(&dropped, case).is_some());
    Ok(())
}

/// The planted finding's size and interval, if it is told.
fn found(report: &ScoreReport, case: &Case) -> Option<(f64, [f64; 2])> {
    let f = report.findings.iter().find(|f| case.groups.contains(&f.group) && f.measure == case.measure)?;
    let [low, high] = f.ci95.unwrap_or([f.value, f.value]);
    // Downstrokes early are upstrokes late.
    Some(if f.value < 0.0 { (-f.value, [-high, -low]) } else { (f.value, [low, high]) })
}
