//! Files appear whole or not at all.

#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which clippy does not count as tests

use std::io::{Seek, SeekFrom, Write};
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
    let (nowhere, rate) = (dir.path().join("no/x.wav"), SampleRate::new(44_100).unwrap());
    let told = [
        write_whole(&nowhere, |_| Ok(())).unwrap_err().to_string(),
        WavWriter::create(&nowhere, rate, 1, WavFormat::Int16).err().unwrap().to_string(),
    ];
    let folder = dir.path().join("no");
    let words = format!("the folder {} is not there; make the folder first", folder.display());
    assert!(told.iter().all(|t| t.contains(&words)), "{told:?}");
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

#[cfg(unix)]
mod places_that_stay {
    use super::*;
    use std::os::unix::fs::{FileTypeExt, PermissionsExt, symlink};

    #[test]
    fn a_pipe_stays_a_pipe_and_gets_the_bytes() {
        let dir = tempfile::tempdir().unwrap();
        let pipe = dir.path().join("pipe");
        assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        let reader = std::thread::spawn({
            let pipe = pipe.clone();
            move || std::fs::read(pipe).unwrap()
        });
        write_whole(&pipe, |w| {
            w.write_all(b"whXle")?;
            w.seek(SeekFrom::Start(2))?;
            w.write_all(b"o")
        })
        .unwrap();
        assert!(std::fs::metadata(&pipe).unwrap().file_type().is_fifo());
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 1);
        assert_eq!(reader.join().unwrap(), b"whole");
    }

    #[test]
    fn a_link_stays_a_link_and_what_it_points_to_is_written() {
        let dir = tempfile::tempdir().unwrap();
        std::fs::create_dir(dir.path().join("far")).unwrap();
        let (link, second) = (dir.path().join("link"), dir.path().join("second"));
        symlink("far/real.txt", &link).unwrap();
        symlink("link", &second).unwrap();
        for text in ["made", "made again"] {
            write_whole(&second, |w| w.write_all(text.as_bytes())).unwrap();
            assert_eq!(std::fs::read_to_string(dir.path().join("far/real.txt")).unwrap(), text);
        }
        assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
        assert!(std::fs::symlink_metadata(&second).unwrap().is_symlink());
        assert_eq!(std::fs::read_dir(dir.path().join("far")).unwrap().count(), 1);
        symlink("round", dir.path().join("round")).unwrap();
        let e = write_whole(&dir.path().join("round"), |_| Ok(())).unwrap_err();
        assert!(e.to_string().contains("symbolic links"), "{e}");
    }

    #[test]
    fn a_file_that_is_replaced_keeps_its_rights() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("x");
        let rights = || std::fs::metadata(&path).unwrap().permissions().mode() & 0o777;
        std::fs::write(dir.path().join("plain"), "").unwrap();
        write_whole(&path, |w| w.write_all(b"new")).unwrap();
        assert_eq!(rights(), std::fs::metadata(dir.path().join("plain")).unwrap().permissions().mode() & 0o777);
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).unwrap();
        write_whole(&path, |w| w.write_all(b"newer")).unwrap();
        assert_eq!(rights(), 0o640);
    }
}
