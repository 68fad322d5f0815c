//! What becomes of talk and knocks over the playing: from sound to what is told, on takes of the string model.
//!
//!     cargo run --release -p takegauge-take --example talk > reports/talk.md
//!
//! Each take has inside changes 14 ms late, three notes too many and four brushed strings, on a guitar, at a tempo and by
//! a voice drawn for it; it is rendered as it is, talked over and knocked over. Seeded: the same figures on every run of
//! one machine. A number after `--` asks for fewer takes; a folder after that gets takes of other seeds, with their drills
//! and what was played, instead: what the rule is fitted on (tests/measure/other_sounds.py).

use std::error::Error;
use std::path::{Path, PathBuf};
use takegauge_audio::{WavFormat, write_wav};
use takegauge_drill::{ChangeKind, Drill};
use takegauge_pluck::{Guitar, Happens, Knocks, Performance, Player, Sound, Speech, perform, render, scenes};
use takegauge_review::{GroupKey, Measure};
use takegauge_stats::Seeded;
use takegauge_take::{Request, score};
use takegauge_units::{Bpm, Decibels, Hertz, Seconds};

/// Takes a row, where no number is given.
const TAKES: usize = 24;
/// The constants were found on seeds below this, from the other one on.
const FIRST_SEED: u64 = 1_000;
const FITTED_SEED: u64 = 100;
/// An extra told this near to one that was played is it, seconds.
const NEAR_S: f64 = 0.012;

/// What is heard beside the guitar.
#[derive(Clone, Copy)]
enum Beside {
    Nothing,
    /// So many dB under the notes.
    Talk(f64),
    Knocks(f64),
}

impl Beside {
    fn words(self) -> String {
        match self {
            Self::Nothing => "nothing".to_owned(),
            Self::Talk(db) => format!("talk at {db:.0} dB"),
            Self::Knocks(db) => format!("knocks at {db:.0} dB, {KNOCKS_APART_S} s apart"),
        }
    }
}

const KNOCKS_APART_S: f64 = 0.7;
const ROWS: [Beside; 6] = [
    Beside::Nothing,
    Beside::Talk(-20.0),
    Beside::Talk(-13.0),
    Beside::Talk(-6.0),
    Beside::Knocks(-13.0),
    Beside::Knocks(-6.0),
];

#[derive(Default)]
struct Counts {
    notes: usize,
    heard: usize,
    planted: usize,
    told: usize,
    not_planted: usize,
    named: usize,
}

fn main() -> Result<(), Box<dyn Error>> {
    let takes = std::env::args().nth(1).map_or(Ok(TAKES), |n| n.parse())?;
    if let Some(folder) = std::env::args().nth(2).map(PathBuf::from) {
        return write(takes, &folder);
    }
    println!(
        "# Talk and knocks over the playing\n\n\
         Made by `cargo run --release -p takegauge-take --example talk`; seeded, so the same on every run. {takes} takes of \
         the string model a row, the same in every row: inside changes 14 ms late, three notes too many, four strings \
         brushed; guitars, tempos (110 to 170 bpm) and voices (95 to 235 Hz, four to six syllables a second) drawn for \
         each. dB: the usual peak against that of a usual note. The rule's constants (crates/measure/src/tuning/extra.rs) were \
         found on other takes and other drawn guitars.\n\n\
         | beside the guitar | notes heard | extra notes told, of those played | told as extra, played by nobody: a take | \
         inside changes named |\n|---|---|---|---|---|"
    );
    let file = std::env::temp_dir().join(format!("takegauge-talk-{}.wav", std::process::id()));
    for beside in ROWS {
        let mut counts = Counts::default();
        for k in 0..takes {
            one(FIRST_SEED + k as u64, beside, &file, &mut counts)?;
        }
        eprintln!("{}: done", beside.words());
        println!(
            "| {} | {} of {} | {} of {} | {:.2} | {} of {takes} |",
            beside.words(),
            counts.heard,
            counts.notes,
            counts.told,
            counts.planted,
            counts.not_planted as f64 / takes.max(1) as f64,
            counts.named,
        );
    }
    if takes > 0 {
        std::fs::remove_file(&file)?;
    }
    Ok(())
}

/// Takes to fit by: NAME.wav, NAME.toml, and NAME.json with the times of notes and extras.
fn write(takes: usize, folder: &Path) -> Result<(), Box<dyn Error>> {
    std::fs::create_dir_all(folder)?;
    for (row, beside) in ROWS.into_iter().enumerate() {
        for k in 0..takes as u64 {
            let (drill, played, sound) = take(FITTED_SEED + k, beside)?;
            let name = |ending| folder.join(format!("model-{row}-{k:02}.{ending}"));
            let rendered = render(&played, &sound);
            write_wav(&name("wav"), rendered.rate, 1, WavFormat::Float32, &rendered.samples)?;
            std::fs::write(name("toml"), drill.to_toml())?;
            let notes: Vec<f64> = played.notes.iter().filter_map(|n| n.played.map(|at| at.0)).collect();
            let extras: Vec<(f64, &str)> = played.extras.iter().map(|x| (x.at.0, "extra")).collect();
            std::fs::write(name("json"), serde_json::json!({"notes": notes, "extras": extras}).to_string())?;
        }
    }
    Ok(())
}

/// A drill, what a player drawn for it played of it, and by what it sounds.
fn take(seed: u64, beside: Beside) -> Result<(Drill, Performance, Sound), Box<dyn Error>> {
    let scene = scenes::by_name("late_inside").ok_or("no such scene")?;
    let mut rng = Seeded::stream(21, seed);
    let tempo = [110.0, 140.0, 170.0][rng.index(3)];
    let drill = Drill { tempo: Bpm(tempo), ..scene.drill };
    let notes = drill.grid().len();
    let mut some = |n: usize| Happens::At((0..n).map(|_| rng.index(notes - 1)).collect());
    let (extra, brushed) = (some(3), some(4));
    let guitar = match rng.index(8) {
        0 => Guitar::Bridge,
        1 => Guitar::Neck,
        2 => Guitar::Archtop,
        3 => Guitar::Acoustic,
        _ => Guitar::Drawn(seed as u32),
    };
    let pitch = Hertz([95.0, 115.0, 135.0, 185.0, 210.0, 235.0][rng.index(6)]);
    let room = (rng.index(2) == 0).then_some(Decibels(-12.0));
    let mut sound = Sound { guitar, room, noise: Some(Decibels(-65.0)), ..Sound::default() };
    match beside {
        Beside::Nothing => {}
        Beside::Talk(db) => sound.speech = Some(Speech { level: Decibels(db), pitch, seed }),
        Beside::Knocks(db) => {
            sound.knocks = Some(Knocks { level: Decibels(db), apart: Seconds(KNOCKS_APART_S), seed });
        }
    }
    let played = perform(&drill, &Player { seed: 9_000 + seed, extra, brushed, ..scene.player });
    Ok((drill, played, sound))
}

fn one(seed: u64, beside: Beside, file: &Path, counts: &mut Counts) -> Result<(), Box<dyn Error>> {
    let (drill, played, sound) = take(seed, beside)?;
    let rendered = render(&played, &sound);
    write_wav(file, rendered.rate, 1, WavFormat::Float32, &rendered.samples)?;
    let report = score(&Request::new(file, &drill), &())?;
    let near = |a: f64, b: f64| (a - b).abs() < NEAR_S;
    counts.notes += report.summary.notes_reached;
    counts.heard += report.summary.played;
    counts.planted += played.extras.len();
    let told = |at: f64| report.extra.iter().any(|x| near(x.played_s, at));
    counts.told += played.extras.iter().filter(|x| told(x.at.0)).count();
    let nobodys = |at: f64| !played.extras.iter().any(|x| near(x.at.0, at));
    counts.not_planted += report.extra.iter().filter(|x| nobodys(x.played_s)).count();
    let inside = (GroupKey::Kind(ChangeKind::Inside), Measure::Bias);
    counts.named += usize::from(report.findings.iter().any(|f| (f.group, f.measure) == inside));
    Ok(())
}
