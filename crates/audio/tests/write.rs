//! Files appear whole or not at all.

#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which clippy does not count as tests

use std::io::Write;
use takegauge_audio::{AudioError, WavFormat, WavWriter, write_whole};
use takegauge_units::SampleRate;

#[test]
fn a_failed_write_leaves_what_was_there_and_nothing_else() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("report.txt");
    write_whole(&path, |w| w.write_all(b"first")).unwrap();
    let failed = write_whole(&path, |w| {
        w.write_all(b"half")?;
        Err(std::io::Error::other("no more"))
    });
    assert!(matches!(failed, Err(AudioError::Write { .. })));
    assert_eq!(std::fs::read(&path).unwrap(), b"first");
    write_whole(&path, |w| w.write_all(b"second")).unwrap();
    assert_eq!(std::fs::read(&path).unwrap(), b"second");
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 1);
}

#[test]
fn impossible_targets_are_errors() {
    let dir = tempfile::tempdir().unwrap();
    assert!(write_whole(dir.path(), |_| Ok(())).is_err());
    assert!(write_whole(&dir.path().join("no/such/folder/x"), |_| Ok(())).is_err());
    let rate = SampleRate::new(44_100).unwrap();
    assert!(WavWriter::create(&dir.path().join("x.wav"), rate, 0, WavFormat::Int16).is_err());
}

#[test]
fn a_wav_file_appears_only_when_finished() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("x.wav");
    let rate = SampleRate::new(44_100).unwrap();
    let mut w = WavWriter::create(&path, rate, 2, WavFormat::Int16).unwrap();
    w.write(&[0.5, -0.5, 2.0, f32::NAN]).unwrap();
    assert!(!path.exists());
    w.finish().unwrap();
    let samples: Vec<i16> = hound::WavReader::open(&path).unwrap().into_samples().map(Result::unwrap).collect();
    assert_eq!(samples, [16_384, -16_384, 32_767, 0]);

    let mut odd = WavWriter::create(&path, rate, 2, WavFormat::Int16).unwrap();
    odd.write(&[0.5; 3]).unwrap();
    assert!(odd.finish().is_err());
    drop(WavWriter::create(&path, rate, 2, WavFormat::Int24).unwrap());
    assert_eq!(hound::WavReader::open(&path).unwrap().len(), 4, "the old file stands");
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 1);
}
