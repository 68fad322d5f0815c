//! Bad input: each kind of it gives its own error or warning, and nothing makes the reader panic.

#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which clippy does not count as tests

use rand::{RngExt, SeedableRng};
use std::path::{Path, PathBuf};
use takegauge_audio::{AudioError, ChannelChoice, ReadSummary, WavFormat, read_all, write_wav};
use takegauge_units::SampleRate;

fn wav_bytes(dir: &Path, frames: usize) -> Vec<u8> {
    let path = dir.join("whole.wav");
    let x: Vec<f32> = (0..frames).map(|i| 0.5 * (i as f32 * 0.1).sin()).collect();
    write_wav(&path, SampleRate::new(8000).unwrap(), 1, WavFormat::Int16, &x).unwrap();
    std::fs::read(&path).unwrap()
}

fn read_bytes(dir: &Path, name: &str, bytes: &[u8]) -> Result<(Vec<f32>, ReadSummary), AudioError> {
    let path = dir.join(name);
    std::fs::write(&path, bytes).unwrap();
    read_all(&path, ChannelChoice::Auto)
}

fn formats() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../test-audio/formats")
}

#[test]
fn what_is_no_take_is_told_apart() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    let error = |name: &str, bytes: &[u8]| read_bytes(d, name, bytes).unwrap_err();
    assert!(matches!(read_all(&d.join("none.wav"), ChannelChoice::Auto), Err(AudioError::NotFound { .. })));
    assert!(matches!(read_all(d, ChannelChoice::Auto), Err(AudioError::Directory { .. })));
    assert!(matches!(error("empty.wav", b""), AudioError::Empty { .. }));
    assert!(matches!(error("text.wav", &b"a line of text\n".repeat(99)), AudioError::NotAudio { .. }));
    assert!(matches!(error("one.wav", b"R"), AudioError::NotAudio { .. }));
    assert!(matches!(error("a.wv", b"wvpk\0\0\0\0"), AudioError::UnsupportedContainer { .. }));
}

#[test]
fn impossible_headers_are_told_apart() {
    let dir = tempfile::tempdir().unwrap();
    let whole = wav_bytes(dir.path(), 4000);
    let patched = |at: usize, bytes: &[u8]| {
        let mut b = whole.clone();
        b[at..at + bytes.len()].copy_from_slice(bytes);
        read_bytes(dir.path(), "p.wav", &b)
    };
    assert!(matches!(patched(22, &[0, 0]), Err(AudioError::NoChannels { .. })));
    assert!(matches!(patched(24, &4000u32.to_le_bytes()), Err(AudioError::Rate { rate_hz: 4000, .. })));
    assert!(matches!(patched(24, &0u32.to_le_bytes()), Err(AudioError::Rate { rate_hz: 0, .. })));
    assert!(matches!(read_bytes(dir.path(), "h.wav", &whole[..44]), Err(AudioError::NoSamples { .. })));
}

#[test]
fn a_wav_header_that_lies_about_length_loses_nothing_quietly() {
    let dir = tempfile::tempdir().unwrap();
    let whole = wav_bytes(dir.path(), 4000);
    let with_length = |riff: u32, data: u32| {
        let mut b = whole.clone();
        b[4..8].copy_from_slice(&riff.to_le_bytes());
        b[40..44].copy_from_slice(&data.to_le_bytes());
        let (x, summary) = read_bytes(dir.path(), "l.wav", &b).unwrap();
        (x.len(), summary.warnings.join("; "))
    };
    let (n, said) = with_length(1_000_000, 800_000);
    assert!(n == 4000 && said.contains("decoded 0.50 s of 50.00 s"), "{n} {said}");
    let (n, said) = with_length(0, 0);
    assert!(n == 4000 && said.contains("does not say how long"), "{n} {said}");
    assert_eq!(with_length(u32::MAX, u32::MAX), (4000, String::new()), "a pipe's header is no fault");
    let (n, said) = with_length(2036, 2000);
    assert!(n == 1000 && said.contains("0.4 s more follow"), "{n} {said}");
    assert_eq!(with_length(8036, 8000), (4000, String::new()));
}

#[test]
fn cut_files_give_what_they_hold_and_say_so() {
    let dir = tempfile::tempdir().unwrap();
    let whole = wav_bytes(dir.path(), 4000);
    let (x, summary) = read_bytes(dir.path(), "c.wav", &whole[..44 + 2 * 3000 + 1]).unwrap();
    assert_eq!(x.len(), 3000);
    assert!(summary.warnings[0].starts_with("decoded 0.38 s of 0.50 s"), "{:?}", summary.warnings);
    for name in ["ticks.flac", "ticks-tagged.mp3", "ticks.aiff", "ticks.ogg"] {
        let bytes = std::fs::read(formats().join(name)).unwrap();
        let (x, summary) = match read_bytes(dir.path(), name, &bytes[..bytes.len() * 2 / 3]) {
            Ok(read) => read,
            // So short an Ogg file has all its sound in one page.
            Err(AudioError::NoSamples { .. }) if name == "ticks.ogg" => continue,
            Err(e) => panic!("{name}: {e}"),
        };
        assert!(!x.is_empty() && summary.warnings[0].starts_with("decoded"), "{name}: {:?}", summary.warnings);
    }
}

#[test]
fn samples_that_are_no_number_are_silence_and_counted() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("nan.wav");
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: 44_100,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut w = hound::WavWriter::create(&path, spec).unwrap();
    for i in 0..2000 {
        let bad = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1e30];
        w.write_sample(if i < 4 { bad[i] } else { 0.25 }).unwrap();
        w.write_sample(0.25f32).unwrap();
    }
    w.finalize().unwrap();
    let (x, summary) = read_all(&path, ChannelChoice::Auto).unwrap();
    assert_eq!(summary.non_finite_samples, 4);
    assert!(summary.warnings[0].contains("no number"));
    assert_eq!((x[0], x[3], x[4]), (0.125, 0.125, 0.25));
}

/// A lost frame of FLAC is silence in its place: what follows keeps its time.
#[test]
fn damage_in_the_middle_of_flac_moves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut bytes = std::fs::read(formats().join("ticks.flac")).unwrap();
    let (clean, _) = read_all(&formats().join("ticks.flac"), ChannelChoice::Auto).unwrap();
    let at = bytes.len() / 2;
    bytes[at..at + 8].fill(0x55);
    let (x, summary) = read_bytes(dir.path(), "d.flac", &bytes).unwrap();
    assert_eq!(x.len(), clean.len());
    assert_eq!(x[27_333..27_400], clean[27_333..27_400]);
    assert!(summary.warnings[0].contains("damaged packet"), "{:?}", summary.warnings);
}

/// Seeded damage of every kind of file: an error or samples that are finite, never a panic.
#[test]
fn mutated_files_never_panic() {
    let dir = tempfile::tempdir().unwrap();
    let rounds: u64 = std::env::var("TAKEGAUGE_MUTATIONS").ok().and_then(|n| n.parse().ok()).unwrap_or(40);
    let mut files: Vec<PathBuf> = std::fs::read_dir(formats()).unwrap().map(|e| e.unwrap().path()).collect();
    wav_bytes(dir.path(), 4000);
    files.push(dir.path().join("whole.wav"));
    files.sort();
    for path in files.iter().filter(|p| p.extension().is_some_and(|e| e != "md")) {
        let whole = std::fs::read(path).unwrap();
        let name = format!("m-{}", path.file_name().unwrap().to_string_lossy());
        for seed in 0..rounds {
            let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
            let mut bytes = whole.clone();
            // Headers are where a wrong byte does most; every third round stays within them.
            let reach = if seed % 3 == 0 { bytes.len().min(256) } else { bytes.len() };
            for _ in 0..rng.random_range(1..12) {
                let at = rng.random_range(0..reach);
                bytes[at] = rng.random();
            }
            if seed % 4 == 1 {
                bytes.truncate(rng.random_range(0..whole.len()));
            }
            eprintln!("{name}, seed {seed}");
            if let Ok((x, _)) = read_bytes(dir.path(), &name, &bytes) {
                assert!(x.iter().all(|v| v.is_finite()), "{name}, seed {seed}");
            }
        }
    }
}
