//! Without libFuzzer: changes files of tests/corpus blindly (seeded) and holds the results against their properties.
//!
//!     cargo run --release --no-default-features --bin blind -- KIND SECONDS [SEED]
//!
//! The input under way lies in the system's temporary folder as takegauge-blind-KIND until it has passed.

#[path = "../../tests/corpus/blind.rs"]
mod blind;
mod common;

use blind::{Random, change};
use std::path::Path;
use std::time::{Duration, Instant};

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let (kind, seconds) = (args[1].as_str(), args[2].parse().expect("seconds"));
    let seed = args.get(3).map_or(1, |s| s.parse().expect("a seed"));
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/corpus").join(kind);
    let mut files: Vec<_> = std::fs::read_dir(folder).expect("a kind").map(|e| e.expect("a file").path()).collect();
    files.sort();
    let seeds: Vec<Vec<u8>> = files.iter().map(|f| std::fs::read(f).expect("a seed")).collect();
    let kept = std::env::temp_dir().join(format!("takegauge-blind-{kind}"));
    let (mut random, mut runs, mut slowest) = (Random(seed), 0u64, Duration::ZERO);
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(seconds) {
        let mut bytes = seeds[random.next() % seeds.len()].clone();
        change(&mut bytes, &seeds, &mut random);
        std::fs::write(&kept, &bytes).expect("room for the input");
        let at = Instant::now();
        common::accounted(kind, &bytes);
        slowest = slowest.max(at.elapsed());
        runs += 1;
    }
    std::fs::remove_file(&kept).expect("the input");
    println!("{kind}: {runs} runs in {} s, seed {seed}, the slowest {:.3} s", begun.elapsed().as_secs(), slowest.as_secs_f64());
}
