//! Takes that are none, that are damaged, or that are of something else: a clear error, and nothing is made up.

use crate::common::{Place, committed, plucks};

/// Both commands that read a take stop alike.
#[track_caller]
fn both_stop(place: &Place, take: &str, code: i32, says: &str) {
    place.run(["onsets", take]).stopped(code, says);
    place.run(["score", take, "--drill", &committed("late_inside", "toml")]).stopped(code, says);
}

#[test]
fn what_is_no_take_is_told_apart() {
    let place = Place::new();
    both_stop(&place, "none.wav", 2, "no such file");
    both_stop(&place, ".", 2, "this is a folder");
    both_stop(&place, place.file("empty.wav", ""), 2, "the file is empty");
    both_stop(&place, place.file("letter.wav", "Dear player, ".repeat(90)), 2, "not an audio file");
}

#[test]
fn silence_cannot_be_scored() {
    let place = Place::new();
    let take = place.wav("silence.wav", &vec![0.0; 5 * 44_100]);
    place.run(["score", take, "--drill", &committed("late_inside", "toml")]).stopped(1, "no attack was heard");
}

#[test]
fn a_cut_wav_is_used_up_to_the_cut_and_says_where() {
    let place = Place::new();
    place.wav("whole.wav", &plucks(12));
    let bytes = std::fs::read(place.path("whole.wav")).unwrap();
    // 44 bytes and more of header, 4 bytes a sample: a little over two seconds stay.
    let take = place.file("cut.wav", &bytes[..380_000]);
    let run = place.run(["onsets", take, "--json", "-"]).done();
    assert!(run.err.contains("decoded 2.1") && run.err.contains("ends early"), "{}", run.err);
    assert_eq!(run.json()["onsets"].as_array().unwrap().len(), 7);
    assert_eq!(run.json()["warnings"].as_array().unwrap().len(), 1);
}

#[test]
fn a_cut_flac_is_used_up_to_the_cut_and_says_where() {
    let place = Place::new();
    let bytes = std::fs::read(committed("late_inside", "flac")).unwrap();
    let take = place.file("cut.flac", &bytes[..bytes.len() / 2]);
    let run = place.run(["score", take, "--drill", &committed("late_inside", "toml"), "--json", "-"]).done();
    assert!(run.err.contains("of 11.03 s; the file ends early"), "{}", run.err);
    let report = run.json();
    let reached = report["summary"]["notes_reached"].as_u64().unwrap();
    assert!((40..70).contains(&reached), "{reached} of 108 notes reached");
    assert_eq!(report["summary"]["missed"], 0, "what was cut off is not missed");
}

#[test]
fn a_header_that_lies_about_length_loses_nothing_quietly() {
    let place = Place::new();
    place.wav("whole.wav", &plucks(8));
    let mut bytes = std::fs::read(place.path("whole.wav")).unwrap();
    let data = bytes.windows(4).position(|w| w == b"data").unwrap();
    bytes[data + 4..data + 8].copy_from_slice(&u32::MAX.to_le_bytes());
    let open_end = place.run(["onsets", place.file("open.wav", &bytes), "--json", "-"]).done();
    assert_eq!(open_end.json()["onsets"].as_array().unwrap().len(), 8);
    bytes[data + 4..data + 8].copy_from_slice(&(4 * 44_100_u32).to_le_bytes());
    let short = place.run(["onsets", place.file("short.wav", &bytes), "--json", "-"]).done();
    assert!(short.err.contains("the header promises 1.0 s"), "{}", short.err);
}

#[test]
fn samples_that_are_no_number_are_silence_and_counted() {
    let place = Place::new();
    let mut x = plucks(8);
    let clean = place.run(["onsets", place.wav("clean.wav", &x), "--json", "-"]).done().json();
    x[100] = f32::NAN;
    x[40_000..40_010].fill(f32::INFINITY);
    let run = place.run(["onsets", place.wav("odd.wav", &x), "--json", "-"]).done();
    assert!(run.err.contains("11 sample(s) are no number"), "{}", run.err);
    assert!(run.json()["onsets"].as_array().unwrap().len() >= clean["onsets"].as_array().unwrap().len());
}

#[test]
fn a_channel_that_the_file_lacks_is_refused() {
    let place = Place::new();
    let take = place.wav("take.wav", &plucks(4));
    place
        .run(["onsets", take, "--channel", "3"])
        .stopped(2, "channel 3 was asked for, but the file has 1; leave --channel out");
    place.run(["onsets", take, "--channel", "middle"]).stopped(2, "--channel");
}

#[test]
fn a_take_of_something_else_does_not_fit_and_says_how_little_does() {
    let place = Place::new();
    let run = place.run(["score", &committed("late_inside", "flac"), "--drill", place.file("other.toml", OTHER)]);
    let run = run.stopped(1, "does not fit the drill: the best match covers ");
    assert!(run.err.contains(" of 96 notes"), "{}", run.err);
}

const OTHER: &str = "name = \"One note\"\ntempo_bpm = 61\nsteps_per_beat = 1\nbeats_per_bar = 4\nrepeats = 24\n\
    tuning = \"E2 A2 D3 G3 B3 E4\"\npicking = \"down\"\nfirst_stroke = \"down\"\nline = \"1:22 1:21 1:22 1:19\"\n";
