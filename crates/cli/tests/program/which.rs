//! Takes without a drill: told from the take among those at hand, or what was tried is said.

use crate::common::{Place, committed, plucks};

#[test]
fn the_drill_is_told_from_the_take_among_those_beside_it_and_the_built_in_ones() {
    let place = Place::new();
    std::fs::copy(committed("late_inside", "flac"), place.path("take.flac")).unwrap();
    std::fs::copy(committed("late_inside", "toml"), place.path("mine.toml")).unwrap();
    std::fs::copy(committed("smear_one_pair", "toml"), place.path("other.toml")).unwrap();
    let told = place.run(["score", "take.flac", "--json", "-"]).done();
    assert!(told.err.contains("no drill was named; this is ") && told.err.contains("mine.toml"), "{}", told.err);
    let named = place.run(["score", "take.flac", "--json", "-", "--drill", "mine.toml"]).done();
    assert_eq!(told.out, named.out, "and the report is the same");
    let folder = place.run(["score", "take.flac", "--json", "-", "--drill", "."]).done();
    assert_eq!(folder.out, named.out);
}

#[test]
fn of_drills_that_sound_the_same_the_one_called_as_the_take_is_used_and_others_are_named() {
    let place = Place::new();
    std::fs::copy(committed("late_inside", "flac"), place.path("take.flac")).unwrap();
    let drill = std::fs::read_to_string(committed("late_inside", "toml")).unwrap();
    place.file("a.toml", drill.replace("first_stroke = \"down\"", "first_stroke = \"up\""));
    place.file("b.toml", drill.replace("tempo_bpm = 170", "tempo_bpm = 110"));
    place.file("take.toml", &drill);
    let told = place.run(["score", "take.flac", "--brief"]).done();
    assert!(told.err.contains("this is take.toml, or a.toml, which sounds the same ("), "{}", told.err);
}

#[test]
fn where_none_fits_what_was_tried_is_said() {
    let place = Place::new();
    std::fs::copy(committed("late_inside", "flac"), place.path("take.flac")).unwrap();
    std::fs::create_dir(place.path("drills")).unwrap();
    let run = place.run(["score", "take.flac", "--drill", "drills"]);
    run.stopped(2, "no drill file in this folder");
    std::fs::copy(committed("smear_one_pair", "toml"), place.path("drills/pair.toml")).unwrap();
    place
        .run(["score", "take.flac", "--drill", "drills"])
        .stopped(1, "none of the 1 drills at hand fits: drills/pair.toml");
    // Of silence, and of a few notes, nothing is tried.
    let silent = place.wav("silence.wav", &vec![0.0; 88_200]);
    let told =
        place.run(["score", silent]).stopped(1, "no attack was heard in the take; check that it is the right file");
    assert!(!told.err.contains("one-string-sixteenths"), "{}", told.err);
    let few = place.wav("few.wav", &plucks(4));
    let told = place.run(["score", few]).stopped(1, "the take is short, 4 attacks: too few to tell the drill from");
    assert!(!told.err.contains("one-string-sixteenths"), "{}", told.err);
    place
        .run(["score", few, "--drill", &committed("late_inside", "toml")])
        .stopped(1, "only 4 attacks were heard in it, too few to find them in the drill");
}

#[test]
fn a_drill_told_from_a_short_take_is_no_sure_thing() {
    let place = Place::new();
    place.run(["-q", "click", "inside-pair", "--guide", "--repeats", "1", "-o", "whole.wav"]).done();
    let mut whole = hound::WavReader::open(place.path("whole.wav")).unwrap();
    let rate = whole.spec().sample_rate as usize;
    let samples: Vec<f32> = whole.samples::<i16>().map(|s| f32::from(s.unwrap()) / 32_768.0).collect();
    // Past the count-in, ten notes of sixteen.
    let short = place.wav("short.wav", &samples[2 * rate..(3.82 * rate as f64) as usize]);
    let told = place.run(["score", short, "--brief"]).done();
    for part in [
        "this is outside-pair, or inside-pair, which sounds the same (",
        "; the take is short, 10 attacks: to be sure, name the drill with --drill",
    ] {
        assert!(told.err.contains(part), "{part}: {}", told.err);
    }
    assert!(told.out.contains("No repeat was played whole."), "{}", told.out);
}

/// A folder with a take and, elsewhere, the drill that it is of.
fn take_and_drill() -> Place {
    let place = Place::new();
    for folder in ["in", "drills"] {
        std::fs::create_dir(place.path(folder)).unwrap();
    }
    std::fs::copy(committed("late_inside", "flac"), place.path("in/take.flac")).unwrap();
    std::fs::copy(committed("late_inside", "toml"), place.path("drills/mine.toml")).unwrap();
    std::fs::copy(committed("smear_one_pair", "toml"), place.path("drills/other.toml")).unwrap();
    place
}

#[test]
fn the_journal_is_added_to_with_the_drill_that_the_take_tells() {
    let place = take_and_drill();
    let add = |take: &str, more: &[&str]| {
        let words = ["journal", "--journal-file", "j.db", "add", take, "--player", "Ada", "--picked", "all"];
        place.run(words.iter().chain(more))
    };
    add("in/take.flac", &["--drill", "drills"]).done();
    // The journal knows the drill now: it needs no word any more.
    std::fs::create_dir(place.path("bare")).unwrap();
    std::fs::copy(place.path("in/take.flac"), place.path("bare/again.flac")).unwrap();
    let again = add("bare/again.flac", &["--again"]).done();
    assert!(
        again.err.contains("bare/again.flac: no drill was named; this is ") && again.err.contains("(journal)"),
        "{}",
        again.err
    );
    assert!(again.out.contains("take 1 of Ada"), "{}", again.out);
    let silent = place.wav("silence.wav", &vec![0.0; 88_200]);
    add(silent, &[]).stopped(1, "no attack was heard");
}

#[test]
fn batch_and_ladder_tell_the_drill_of_a_folder_and_say_so() {
    let place = take_and_drill();
    let told = place.run(["batch", "in", "--drill", "drills"]).done();
    assert!(told.err.contains("in/take.flac: no drill was named; this is drills/mine.toml ("), "{}", told.err);
    let named = place.run(["batch", "in", "--drill", "drills/mine.toml"]).done();
    assert_eq!(told.out, named.out, "and the line is the same");
    let quiet = place.run(["-q", "batch", "in", "--drill", "drills"]).done();
    assert_eq!((quiet.out.as_str(), quiet.err.as_str()), (named.out.as_str(), ""));
    let steps = ["ladder_140", "ladder_220"].map(|n| committed(n, "flac"));
    // The same line as mine.toml, which would be taken first.
    std::fs::rename(place.path("drills/mine.toml"), place.path("mine.toml")).unwrap();
    std::fs::copy(committed("ladder_140", "toml"), place.path("drills/rising.toml")).unwrap();
    let ladder = place.run(["ladder", &steps[0], &steps[1], "--drill", "drills", "--json", "-"]).done();
    assert!(ladder.err.contains("no drill was named; this is drills/rising.toml"), "{}", ladder.err);
    let drill = committed("ladder_140", "toml");
    let as_named = place.run(["ladder", &steps[0], &steps[1], "--drill", &drill, "--json", "-"]).done();
    assert_eq!(ladder.out, as_named.out);
}

#[test]
fn a_take_of_no_drill_at_hand_is_not_taken_for_the_nearest() {
    let place = Place::new();
    place.run(["-q", "demo", "-o", "demo"]).done();
    std::fs::create_dir(place.path("bare")).unwrap();
    std::fs::rename(place.path("demo/take.wav"), place.path("bare/take.wav")).unwrap();
    place.run(["score", "bare/take.wav"]).stopped(1, "most likely the take is of another");
    place
        .run(["journal", "--journal-file", "j.db", "add", "bare/take.wav", "--player", "Ada"])
        .stopped(1, "comes nearest, but");
    let named = place.run(["score", "bare/take.wav", "--drill", "three-a-string-six-strings", "--brief"]).done();
    assert!(named.out.starts_with("What: "), "a drill that is named is taken at its word: {}", named.out);
}
