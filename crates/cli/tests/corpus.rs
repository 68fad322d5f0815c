//! Every file under tests/corpus (seeds, and whatever once broke something) against the property of its kind, with what
//! it took of time and memory. The long runs are those of the fuzz targets (fuzz/README.md).

#![allow(clippy::unwrap_used)] // test code

#[path = "../../../tests/corpus/blind.rs"]
mod blind;
#[path = "../../../tests/corpus/properties.rs"]
mod properties;

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

#[global_allocator]
static HELD: cap::Cap<std::alloc::System> = cap::Cap::new(std::alloc::System, usize::MAX);

/// More than this for any file is a failure.
const MOST_BYTES: usize = 300_000_000;
/// What hangs takes for ever; a busy machine is several times slower than an idle one.
const LONGEST: Duration = Duration::from_secs(60);

/// Holds the bytes against their property; the memory it takes is bounded, and the time is returned.
fn accounted(kind: &str, bytes: &[u8]) -> Duration {
    let (begun, before) = (Instant::now(), HELD.allocated());
    HELD.set_limit(before + MOST_BYTES).unwrap();
    properties::hold(kind, bytes);
    HELD.set_limit(usize::MAX).unwrap();
    let took = begun.elapsed();
    assert!(took < LONGEST, "{kind}: {took:?}");
    took
}

/// Says which changed file it was that broke something: it can be had again from the seed.
struct Which(&'static str, u64, u64);

impl Drop for Which {
    fn drop(&mut self) {
        if std::thread::panicking() {
            eprintln!("{}, seed {}, run {}", self.0, self.1, self.2);
        }
    }
}

fn files(kind: &str) -> Vec<PathBuf> {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/corpus");
    let mut files: Vec<_> = std::fs::read_dir(corpus.join(kind)).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    assert!(!files.is_empty(), "{kind} has no seed");
    files
}

/// One test, so that the memory counted is one kind's alone. TAKEGAUGE_BLIND gives each kind so many seconds of blind
/// changes, TAKEGAUGE_BLIND_SEED another beginning; without it each gets a few dozen changes.
#[test]
fn what_once_broke_something_does_so_no_more_and_neither_do_changes_of_it() {
    let number = |name: &str| std::env::var(name).ok().and_then(|n| n.parse::<u64>().ok());
    let (seconds, seed) = (number("TAKEGAUGE_BLIND"), number("TAKEGAUGE_BLIND_SEED").unwrap_or(1));
    for kind in properties::KINDS {
        let mut seeds = Vec::new();
        for file in files(kind) {
            eprintln!("{}", file.display());
            seeds.push(std::fs::read(&file).unwrap());
            accounted(kind, &seeds[seeds.len() - 1]);
        }
        let (begun, mut random) = (Instant::now(), blind::Random(seed));
        let (mut runs, mut slowest) = (0u64, Duration::ZERO);
        let more = |runs: u64| seconds.map_or(runs < 40, |s| begun.elapsed() < Duration::from_secs(s));
        while more(runs) {
            let mut bytes = seeds[random.next() % seeds.len()].clone();
            blind::change(&mut bytes, &seeds, &mut random);
            let _which = Which(kind, seed, runs);
            slowest = slowest.max(accounted(kind, &bytes));
            runs += 1;
        }
        println!("{kind}: {} files; {runs} changed ones, seed {seed}; the slowest took {slowest:.3?}", seeds.len());
    }
}
