//! A school's takes, made by the string model, broken ones among them:
//! `cargo run --profile checked -p takegauge-pluck --example many_takes -- FOLDER TAKES BROKEN [REPEATS]`.
//!
//! Writes the takes, their drills beside them and FOLDER/takes.csv (path, drill, player, level, day). Players have a level
//! and a day for each of their takes; beginners are late at inside changes, every other player's scatter falls from day
//! to day. A broken take is empty, text, cut off in its head, silent, or not there. The same arguments give the same files.

use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use takegauge_drill::{ChangeKind, Drill, built_in};
use takegauge_pluck::{Happens, Player, Selector, Sound, perform, render};
use takegauge_units::{Bpm, Decibels, Millis};

const DRILLS: [&str; 4] = ["three-a-string-six-strings", "four-then-three", "roll-over-three", "mixed-runs"];
/// Level, tempo in quarter notes a minute, scatter on the first day in ms, how late inside changes are in ms.
const LEVELS: [(&str, u16, f64, f64); 3] =
    [("beginner", 90, 14.0, 16.0), ("middle", 120, 9.0, 0.0), ("advanced", 150, 6.0, 0.0)];
const PLAYERS: usize = 50;
/// The scatter that is left of the first day's after this many takes of a player whose scatter falls: half.
const HALVED_AFTER: f64 = 12.0;
const FIRST_DAY: u32 = 1;

type Outcome<T = ()> = Result<T, Box<dyn Error + Send + Sync>>;

fn main() -> Outcome {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, takes, broken, rest @ ..] = args.as_slice() else {
        return Err("usage: many_takes FOLDER TAKES BROKEN [REPEATS]".into());
    };
    let (folder, takes, broken) = (Path::new(folder), takes.parse::<usize>()?, broken.parse::<usize>()?);
    let repeats = rest.first().map_or(Ok(8), |r| r.parse::<u32>())?;
    std::fs::create_dir_all(folder)?;
    let drills = drills(folder, repeats)?;
    let every = takes.checked_div(broken).unwrap_or(usize::MAX).max(1);
    let next = AtomicUsize::new(0);
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| -> Outcome {
        let one = || -> Outcome {
            loop {
                let k = next.fetch_add(1, Ordering::Relaxed);
                if k >= takes {
                    return Ok(());
                }
                take(folder, &drills, k, (k % every == every / 2).then_some(k / every))?;
            }
        };
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(one)).collect();
        workers.into_iter().try_for_each(|w| w.join().map_err(|_| "a take could not be made")?)
    })?;
    let mut list = "path,drill,player,level,day\n".to_owned();
    for k in 0..takes {
        let (name, drill) = (name(k), folder.join(format!("{}.toml", drill_name(k))));
        let day = FIRST_DAY as usize + k / PLAYERS;
        let file = folder.join(name);
        writeln!(
            list,
            "{},{},player {:02},{},2026-{:02}-{:02}",
            file.display(),
            drill.display(),
            player_of(k),
            level(k).0,
            1 + day / 28,
            1 + day % 28
        )?;
    }
    Ok(std::fs::write(folder.join("takes.csv"), list)?)
}

fn player_of(k: usize) -> usize {
    k % PLAYERS
}

fn level(k: usize) -> (&'static str, u16, f64, f64) {
    LEVELS[player_of(k) % LEVELS.len()]
}

fn drill_name(k: usize) -> &'static str {
    // Of each player always the same one, so that days can be held against each other.
    DRILLS[player_of(k) % DRILLS.len()]
}

fn name(k: usize) -> String {
    format!("{} {} take {k:05}.flac", drill_name(k), level(k).1)
}

fn drills(folder: &Path, repeats: u32) -> Outcome<Vec<(&'static str, Drill)>> {
    let known: Vec<_> = DRILLS.iter().filter_map(|n| built_in().find(|b| b.name == *n)).collect();
    known
        .into_iter()
        .map(|b| {
            let drill = Drill { repeats, ..b.drill()? };
            std::fs::write(folder.join(format!("{}.toml", b.name)), drill.to_toml())?;
            Ok((b.name, drill))
        })
        .collect()
}

fn take(folder: &Path, drills: &[(&'static str, Drill)], k: usize, broken: Option<usize>) -> Outcome {
    let path = folder.join(name(k));
    match broken.map(|b| b % 5) {
        Some(0) => return Ok(std::fs::write(path, b"")?),
        Some(1) => return Ok(std::fs::write(path, b"this is no sound")?),
        Some(4) => return Ok(()),
        _ => {}
    }
    let drill = drills.iter().find(|d| d.0 == drill_name(k)).ok_or("no such built-in drill")?.1.clone();
    let (_, tempo, spread, late) = level(k);
    let drill = Drill { tempo: Bpm(f64::from(tempo)), ..drill };
    let falls = if player_of(k).is_multiple_of(2) { 0.5_f64.powf((k / PLAYERS) as f64 / HALVED_AFTER) } else { 1.0 };
    let player = Player {
        seed: k as u64,
        spread: Millis(spread * falls),
        biases: vec![(Selector::Kind(ChangeKind::Inside), Millis(late))],
        missed: Happens::Chance(0.005),
        ..Player::default()
    };
    let sound = Sound { noise: Some(Decibels(-70.0)), ..Sound::default() };
    let mut take = render(&perform(&drill, &player), &sound);
    if broken.is_some_and(|b| b % 5 == 3) {
        take.samples.fill(0.0);
    }
    let mut encoder = takegauge_audio::SoundEncoder::new(take.rate)?;
    encoder.push(&take.samples)?;
    let mut bytes = Vec::new();
    std::io::copy(&mut encoder.finish()?.reader()?, &mut bytes)?;
    if broken.is_some_and(|b| b % 5 == 2) {
        bytes.truncate(30);
    }
    Ok(std::fs::write(path, bytes)?)
}
