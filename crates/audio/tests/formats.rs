//! Every container gives the same sound from the same first sample. The files are described in
//! test-audio/formats/README.md; WAV files are made here.

#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which clippy does not count as tests

use std::path::{Path, PathBuf};
use takegauge_audio::{AudioError, ChannelChoice, ChannelUsed, TakeReader, WavFormat, read_all, write_wav};
use takegauge_units::SampleRate;

const RATE: u32 = 44_100;
const LEN: usize = 33_075;
const TICKS: [usize; 4] = [3000, 11_000, 19_500, 27_333];

fn tick(i: usize) -> f64 {
    tick_at(i as f64)
}

fn tick_at(i: f64) -> f64 {
    0.6 * (-i / 60.0).exp() * (std::f64::consts::TAU * 2000.0 * i / f64::from(RATE)).sin()
}

fn original() -> Vec<f32> {
    let mut x = vec![0.0; LEN];
    for at in TICKS {
        for i in 0..600 {
            x[at + i] = tick(i) as f32;
        }
    }
    x
}

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../test-audio/formats").join(name)
}

/// How many samples late the ticks come, by the highest cross-correlation with the known tick.
fn lateness(heard: &[f32]) -> Vec<i64> {
    lateness_at(heard, RATE)
}

/// The same in samples at another rate, which the ticks do not fall on.
fn lateness_at(heard: &[f32], rate: u32) -> Vec<i64> {
    let step = f64::from(RATE) / f64::from(rate);
    let fits = |tick: f64, late: i64| -> f64 {
        let first = (tick / step).ceil();
        let sample = |i: i64| f64::from(*heard.get((first as i64 + late + i) as usize).unwrap_or(&0.0));
        (0..300).map(|i| tick_at((first + i as f64) * step - tick) * sample(i)).sum()
    };
    let best = |at: f64| (-1500..1500).max_by(|a, b| fits(at, *a).total_cmp(&fits(at, *b)));
    TICKS.iter().filter_map(|at| best(*at as f64)).collect()
}

#[test]
fn lossless_files_are_bit_equal() {
    let expected: Vec<f32> = original().iter().map(|x| (x * 32_768.0).round() / 32_768.0).collect();
    for name in ["ticks.flac", "ticks-alac.m4a", "ticks.caf"] {
        let (heard, summary) = read_all(&file(name), ChannelChoice::Auto).unwrap();
        assert_eq!(heard.len(), LEN, "{name}");
        let worst = heard.iter().zip(&expected).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
        assert!(worst <= 1.01 / 32_768.0, "{name}: {worst}");
        assert_eq!(lateness(&heard), [0; 4], "{name}");
        assert_eq!(summary.warnings, [""; 0], "{name}");
        assert_eq!((summary.info.channels, summary.info.sample_rate_hz.hz()), (1, RATE));
    }
}

#[test]
fn lossy_files_begin_where_the_take_began() {
    let files = ["ticks-aac.m4a", "ticks-aac.3gp", "ticks-video.mov", "ticks-tagged.mp3", "ticks.ogg", "ticks-aac.mkv"];
    for name in files {
        let (heard, summary) = read_all(&file(name), ChannelChoice::Auto).unwrap();
        for late in lateness(&heard) {
            assert!(late.abs() <= 1, "{name}: {late} samples late");
        }
        assert_eq!(summary.warnings, [""; 0], "{name}");
        if !name.ends_with("mov") && !name.ends_with("mkv") {
            assert_eq!(heard.len(), LEN, "{name}: padding is cut, too");
        }
    }
}

#[test]
fn opus_begins_and_ends_where_the_take_did_in_every_container() {
    for (name, padding, within) in [
        // At 24 kbit/s the coder shifts a tick by some samples; libopus decodes the same (tests/reference/formats.py).
        ("ticks-opus.ogg", 0, 3),
        ("ticks-opus.webm", 0, 1),
        // Its edits are in milliseconds.
        ("ticks-opus.mp4", 48, 1),
        // Nothing in it states the end: up to a packet of 20 ms is silence.
        ("ticks-opus-fragments.mp4", 960, 1),
    ] {
        let (heard, summary) = read_all(&file(name), ChannelChoice::Auto).unwrap();
        assert_eq!(summary.info.sample_rate_hz.hz(), 48_000);
        assert_eq!(summary.warnings, [""; 0], "{name}");
        for late in lateness_at(&heard, 48_000) {
            assert!(late.abs() <= within, "{name}: {late} samples late");
        }
        assert!((36_000..=36_000 + padding).contains(&heard.len()), "{name}: {} samples", heard.len());
    }
}

#[test]
fn an_unknown_delay_is_said() {
    for name in ["ticks-untagged.mp3", "ticks.aac"] {
        let (heard, summary) = read_all(&file(name), ChannelChoice::Auto).unwrap();
        assert!(lateness(&heard).iter().all(|l| *l > 500), "{name}");
        assert!(summary.warnings[0].contains("all times may be late"), "{name}: {:?}", summary.warnings);
    }
}

#[test]
fn aiff_keeps_its_own_rate() {
    let (heard, summary) = read_all(&file("ticks.aiff"), ChannelChoice::Auto).unwrap();
    assert_eq!(summary.info.sample_rate_hz.hz(), 22_050);
    assert_eq!(heard.len(), LEN.div_ceil(2));
    assert!((summary.info.duration_s.0 - 0.75).abs() < 1e-4);
}

/// At 24 kbit/s ticks of 2 kHz lose their shape, so that the highest correlation may be some samples off.
#[test]
fn a_voice_message_is_read() {
    let (heard, summary) = read_all(&file("ticks-voice.opus"), ChannelChoice::Auto).unwrap();
    assert_eq!((heard.len(), summary.info.sample_rate_hz.hz(), summary.info.channels), (36_000, 48_000, 1));
    assert!(lateness_at(&heard, 48_000).iter().all(|late| late.abs() <= 24), "half a millisecond");
}

/// A packet that no decoder takes is silence of its own length: what follows keeps its time, within what the decoder
/// needs to find its way again.
#[test]
fn damage_in_the_middle_of_opus_moves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut bytes = std::fs::read(file("ticks-opus.webm")).unwrap();
    let whole = read_all(&file("ticks-opus.webm"), ChannelChoice::Auto).unwrap().0;
    // The first bytes of a simple block of track 1: a mode of 20 ms whose frames are as many as one more byte says.
    let blocks: Vec<usize> =
        (8..bytes.len() - 2).filter(|i| bytes[i - 3] == 0x81 && bytes[*i] == 0x80 && bytes[i + 1] & 3 == 0).collect();
    let at = blocks[blocks.len() / 3] + 1;
    bytes[at] |= 3;
    bytes[at + 1] = 1;
    bytes[at + 1] |= 0x40;
    bytes[at + 2..at + 9].fill(0xff);
    let path = dir.path().join("damaged.webm");
    std::fs::write(&path, &bytes).unwrap();
    let (heard, summary) = read_all(&path, ChannelChoice::Auto).unwrap();
    assert!(summary.warnings[0].contains("1 damaged packet(s)"), "{:?}", summary.warnings);
    assert_eq!(heard.len(), whole.len());
    assert!(lateness_at(&heard, 48_000)[3].abs() <= 1);
}

#[test]
fn wav_of_every_width_comes_back() {
    let dir = tempfile::tempdir().unwrap();
    let rate = SampleRate::new(48_000).unwrap();
    for (format, step) in
        [(WavFormat::Int16, 1.0 / 32_768.0), (WavFormat::Int24, 1.0 / 8_388_608.0), (WavFormat::Float32, 1e-12)]
    {
        let path = dir.path().join("a.wav");
        write_wav(&path, rate, 1, format, &original()).unwrap();
        let (heard, _) = read_all(&path, ChannelChoice::Auto).unwrap();
        assert!(heard.iter().zip(original()).all(|(a, b)| (a - b).abs() <= 0.51 * step), "{format:?}");
        assert_eq!(heard.len(), LEN);
    }
    for (bits, kind) in [(8, hound::SampleFormat::Int), (32, hound::SampleFormat::Int)] {
        let path = dir.path().join("b.wav");
        let spec = hound::WavSpec { channels: 1, sample_rate: 44_100, bits_per_sample: bits, sample_format: kind };
        let mut w = hound::WavWriter::create(&path, spec).unwrap();
        let full = f64::from(2u32.pow(u32::from(bits) - 1));
        for x in original() {
            w.write_sample((f64::from(x) * (full - 1.0)) as i32).unwrap();
        }
        w.finalize().unwrap();
        let (heard, _) = read_all(&path, ChannelChoice::Auto).unwrap();
        assert!(heard.iter().zip(original()).all(|(a, b)| f64::from((a - b).abs()) <= 2.0 / full), "{bits}");
    }
}

/// Left holds the ticks, right a tenth of them turned around, 40 dB lower where asked.
fn stereo(dir: &Path, right: f32) -> PathBuf {
    let both: Vec<f32> = original().iter().flat_map(|x| [*x, *x * right]).collect();
    let path = dir.join("s.wav");
    write_wav(&path, SampleRate::new(RATE).unwrap(), 2, WavFormat::Float32, &both).unwrap();
    path
}

#[test]
fn channels_are_chosen_and_said() {
    let dir = tempfile::tempdir().unwrap();
    let path = stereo(dir.path(), 0.5);
    let peak = |choice| read_all(&path, choice).unwrap().0[3000 + 5..3600].iter().fold(0.0f32, |a, b| a.max(*b));
    let left = peak(ChannelChoice::Left);
    assert!((peak(ChannelChoice::Right) / left - 0.5).abs() < 1e-5);
    assert!((peak(ChannelChoice::Mix) / left - 0.75).abs() < 1e-5);
    assert_eq!(peak(ChannelChoice::Number(2)), peak(ChannelChoice::Right));
    let reader = TakeReader::open(&path, ChannelChoice::Auto).unwrap();
    assert_eq!((reader.channel(), reader.channel_note()), (ChannelUsed::Mix, "the mix of 2 channels".to_owned()));
    let error = TakeReader::open(&path, ChannelChoice::Number(3)).err().unwrap();
    assert!(matches!(error, AudioError::NoSuchChannel { wanted: 3, has: 2, .. }));

    let quiet_right = stereo(dir.path(), 0.003);
    assert_eq!(TakeReader::open(&quiet_right, ChannelChoice::Auto).unwrap().channel(), ChannelUsed::Loudest(1));
    let turned = stereo(dir.path(), -0.95);
    let reader = TakeReader::open(&turned, ChannelChoice::Auto).unwrap();
    assert!(reader.channel_note().contains("cancel"), "{}", reader.channel_note());
}
