//! `score` without a drill: told from the take among those at hand, or what was tried is said.

use crate::common::{Place, committed};

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
    let silent = place.wav("silence.wav", &vec![0.0; 88_200]);
    place.run(["score", silent]).stopped(1, "name the drill with --drill");
}
