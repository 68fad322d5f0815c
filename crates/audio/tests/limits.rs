//! Files that ask for more than any recording holds, each named by what it once did.

#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which clippy does not count as tests

mod common;

use common::{boxed, flac, words};
use std::path::Path;
use std::time::{Duration, Instant};
use takegauge_audio::{AudioError, ChannelChoice, ReadSummary, TakeReader};

/// Reads a file to its end and forgets it; how many frames there were.
fn read(name: &str, bytes: &[u8]) -> Result<ReadSummary, AudioError> {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    let begun = Instant::now();
    let read = (|| {
        let mut reader = TakeReader::open(&path, ChannelChoice::Auto)?;
        while reader.next_block()?.is_some() {}
        Ok(reader.finish())
    })();
    assert!(begun.elapsed() < Duration::from_secs(60), "{name}: {:?}", begun.elapsed());
    read
}

fn too_much(name: &str, bytes: &[u8]) -> String {
    match read(name, bytes) {
        Err(e @ AudioError::TooMuch { .. }) => e.to_string(),
        other => panic!("{name}: {other:?}"),
    }
}

fn caf(bytes_a_packet: u32, frames_a_packet: u32, more: &[u8]) -> Vec<u8> {
    let mut b = b"caff\0\x01\0\0desc\0\0\0\0\0\0\0\x20".to_vec();
    b.extend(44_100f64.to_be_bytes());
    b.extend(b"lpcm");
    b.extend(words(&[0, bytes_a_packet, frames_a_packet, 1, 16]));
    b.extend(more);
    b.extend(b"data\0\0\0\0\0\0\0\x44\0\0\0\0");
    b.extend([0; 64]);
    b
}

#[test]
fn a_caf_that_claims_4_thousand_million_frames_a_packet_asked_for_34_gb_and_aborted() {
    let said = too_much("bomb.caf", &caf(2, u32::MAX, &[]));
    assert!(said.contains("4294967295 frames a packet"), "{said}");
    assert!(too_much("wide.caf", &caf(u32::MAX, 1, &[])).contains("packets of 4294967295 bytes"));
    let table = [&b"pakt\0\0\0\0\0\0\0\x18\0\0\0\0\x7f\xff\xff\xff"[..], &[0; 16]].concat();
    assert!(too_much("table.caf", &caf(0, 1024, &table)).contains("2147483647 packets"));
    assert_eq!(read("honest.caf", &caf(2, 1, &[])).unwrap().frames, 32);
}

#[test]
fn an_aifc_of_65535_channels_took_1_2_gb() {
    let mut b = b"FORM\0\x10\0\0AIFCFVER\0\0\0\x04\xa2\x80\x51\x40COMM\0\0\0\x18".to_vec();
    b.extend(u16::MAX.to_be_bytes());
    b.extend(1000u32.to_be_bytes());
    b.extend([0, 16, 0x40, 0x0e, 0xac, 0x44, 0, 0, 0, 0, 0, 0]);
    b.extend(b"NONE\0\0SSND\0\x0f\0\0\0\0\0\0\0\0\0\0");
    b.extend(vec![0; 1 << 20]);
    assert!(too_much("wide.aifc", &b).contains("65535 channels"));
}

#[test]
fn a_flac_of_86_kb_held_13_hours_and_one_of_11_kb_claimed_9_with_gaps() {
    let whole = flac(8000, 65_535, &(0..5713).collect::<Vec<_>>());
    assert!((80_000..90_000).contains(&whole.len()), "{}", whole.len());
    assert!(too_much("packed.flac", &whole).contains("a byte"));
    // 59 s from one frame to the next.
    let gaps = flac(8000, 4096, &(0..590).map(|k| k * 115).collect::<Vec<_>>());
    assert!(gaps.len() < 11_000, "{}", gaps.len());
    assert!(too_much("gaps.flac", &gaps).contains("a byte"));
    // Ten minutes of true silence are no bomb.
    let silence = flac(44_100, 4608, &(0..5742).collect::<Vec<_>>());
    assert_eq!(read("silence.flac", &silence).unwrap().frames, 5742 * 4608);
}

#[test]
fn a_trun_box_of_4_thousand_million_samples_cost_5_s() {
    let formats = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../test-audio/formats");
    let whole = std::fs::read(formats.join("ticks-aac.m4a")).unwrap();
    let top = common::boxes(&whole);
    let (_, moov) = top.iter().find(|b| b.0 == *b"moov").unwrap();
    let track =
        u32::from_be_bytes(moov[moov.windows(4).position(|w| w == b"tkhd").unwrap() + 16..][..4].try_into().unwrap());
    let trex = boxed(b"trex", &words(&[0, track, 1, 1024, 0, 0]));
    let moov = boxed(b"moov", &[moov.clone(), boxed(b"mvex", &trex)].concat());
    let fragment = |samples: u32, flags: u32| {
        let run = boxed(b"trun", &words(&[flags, samples]));
        let traf = [boxed(b"tfhd", &words(&[0, track])), vec![run; 4].concat()].concat();
        boxed(b"moof", &[boxed(b"mfhd", &words(&[0, 1])), boxed(b"traf", &traf)].concat())
    };
    let file = |fragment: Vec<u8>| {
        [boxed(b"ftyp", b"isom\0\0\0\0isom"), moov.clone(), fragment, boxed(b"mdat", &[0; 64])].concat()
    };
    assert!(too_much("runs.mp4", &file(fragment(u32::MAX, 0))).contains("more samples than"));
    assert!(too_much("sizes.mp4", &file(fragment(u32::MAX, 0x200))).contains("more samples than"));
    // Junk before it, as a demuxer skips it.
    let hidden = [vec![0x55; 3000], file(fragment(u32::MAX, 0))].concat();
    match read("hidden.mp4", &hidden) {
        Err(AudioError::TooMuch { .. } | AudioError::NotAudio { .. } | AudioError::NoSamples { .. }) => {}
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_run_of_empty_packets_ends() {
    // A few samples of no size each: read, found empty, and over.
    let _ = read("empty.caf", &caf(2, 1, &[])).unwrap();
}
