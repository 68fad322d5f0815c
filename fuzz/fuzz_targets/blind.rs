//! Without libFuzzer: changes files of tests/corpus blindly (seeded) and holds the results against their properties.
//!
//!     cargo run --release --no-default-features --bin blind -- KIND SECONDS [SEED]
//!     blind --replay KIND FILE
//!
//! The seeds lie in tests/corpus, or in the folder that TAKEGAUGE_CORPUS names. The input under way lies in the system's
//! temporary folder as takegauge-blind-KIND-SEED until it has passed, so that it is there after an abort too.

#[path = "../../tests/corpus/blind.rs"]
mod blind;
mod common;

use blind::{Random, change};
use std::fs::File;
use std::io::{Seek, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if let [_, replay, kind, file] = args.as_slice()
        && replay == "--replay"
    {
        common::accounted(kind, &std::fs::read(file).expect("the file"));
        return;
    }
    let [_, kind, seconds, rest @ ..] = args.as_slice() else { panic!("blind KIND SECONDS [SEED]") };
    let seconds = Duration::from_secs(seconds.parse().expect("seconds"));
    let seed: u64 = rest.first().map_or(1, |s| s.parse().expect("a seed"));

    let seeds = seeds(kind);
    let kept = std::env::temp_dir().join(format!("takegauge-blind-{kind}-{seed}"));
    let mut file = File::create(&kept).expect("room for the input");
    let (mut random, mut runs, mut slowest) = (Random(seed), 0u64, Duration::ZERO);
    let begun = Instant::now();
    while begun.elapsed() < seconds {
        let mut bytes = seeds[random.next() % seeds.len()].clone();
        change(&mut bytes, &seeds, &mut random);
        keep(&mut file, &bytes).expect("room for the input");
        let at = Instant::now();
        common::accounted(kind, &bytes);
        slowest = slowest.max(at.elapsed());
        runs += 1;
    }
    std::fs::remove_file(&kept).expect("the input");
    println!("{kind}: {runs} runs in {} s, seed {seed}, the slowest {:.3} s", begun.elapsed().as_secs(), slowest.as_secs_f64());
}

/// The files that are changed, in the order of their names.
fn seeds(kind: &str) -> Vec<Vec<u8>> {
    let built_from = || Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/corpus");
    let corpus = std::env::var_os("TAKEGAUGE_CORPUS").map_or_else(built_from, PathBuf::from);
    let mut files: Vec<_> =
        std::fs::read_dir(corpus.join(kind)).expect("a kind").map(|e| e.expect("a file").path()).collect();
    files.sort();
    files.iter().map(|f| std::fs::read(f).expect("a seed")).collect()
}

/// Puts the input in place of the last one. One open file: a new one a run would cost more than most runs.
fn keep(file: &mut File, bytes: &[u8]) -> std::io::Result<()> {
    file.rewind()?;
    file.write_all(bytes)?;
    file.set_len(bytes.len() as u64)
}
