//! A film's sound lies on its player's time line, and its frames have the length that its picture was made with
//! (test-audio/films/README.md).
#![allow(clippy::unwrap_used, reason = "test code")]

use std::path::{Path, PathBuf};
use takegauge_audio::{ChannelChoice, TakeReader, frame_length};

fn film(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../test-audio").join(name)
}

#[test]
fn a_sound_that_begins_after_the_picture_is_placed_there() {
    // 0.4 s less a packet of 1,024 samples, the coder's lead-in, which this file leaves in the sound.
    let late = 0.4 - 1024.0 / 48_000.0;
    for (name, starts) in [("films/late_inside.mp4", late), ("films/late_inside.webm", 0.0), ("late_inside.flac", 0.0)]
    {
        let reader = TakeReader::open(&film(name), ChannelChoice::Auto).unwrap();
        assert!((reader.starts_at().0 - starts).abs() < 0.0011, "{name}: {:?}", reader.starts_at());
    }
}

#[test]
fn frames_are_as_long_as_they_were_made() {
    for (name, ms) in [("films/late_inside.mp4", 40.0), ("films/late_inside.webm", 1000.0 / 30.0)] {
        let frames = frame_length(&film(name)).unwrap().unwrap();
        // Time stamps of WebM are whole milliseconds.
        assert!((frames.usual.0 - ms).abs() < 0.7, "{name}: {frames:?}");
        assert!(frames.range.1.0 - frames.range.0.0 < 1.1 && frames.frames > 250, "{name}: {frames:?}");
    }
    assert_eq!(frame_length(&film("late_inside.flac")).unwrap(), None);
    assert_eq!(frame_length(&film("formats/ticks-aac.m4a")).unwrap(), None);
    assert!(frame_length(&film("none.mp4")).is_err());
}
