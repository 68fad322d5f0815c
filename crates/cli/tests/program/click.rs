//! `takegauge click`: exact to the sample.

use crate::common::Place;

const DRILL: &str = "name = \"Two strings\"\ntempo_bpm = 137\nsteps_per_beat = 4\nbeats_per_bar = 4\nrepeats = 2\n\
    tuning = \"E2 A2 D3 G3 B3 E4\"\npicking = \"alternate\"\nfirst_stroke = \"down\"\nline = \"4:5 4:7 3:5 3:7\"\n";

/// The first samples that sound after at least 20 ms without sound.
fn starts(samples: &[i32], rate: u32) -> Vec<usize> {
    let quiet = rate as usize / 50;
    let sounds = samples.iter().enumerate().filter(|(_, s)| **s != 0).map(|(i, _)| i);
    let mut last = None;
    let mut starts = Vec::new();
    for i in sounds {
        if last.is_none_or(|l| i - l > quiet) {
            starts.push(i);
        }
        last = Some(i);
    }
    starts
}

fn read(place: &Place, name: &str) -> (Vec<i32>, hound::WavSpec) {
    let mut file = hound::WavReader::open(place.path(name)).unwrap();
    let spec = file.spec();
    (file.samples().map(|s| s.unwrap()).collect(), spec)
}

#[test]
fn every_click_starts_on_its_sample() {
    let place = Place::new();
    let drill = place.file("drill.toml", DRILL);
    for (rate, bits) in [("44100", "16"), ("48000", "24")] {
        let run = place.run(["click", drill, "-o", "click.wav", "--rate", rate, "--bits", bits, "--replace"]).done();
        let (samples, spec) = read(&place, "click.wav");
        assert_eq!((spec.sample_rate.to_string(), spec.bits_per_sample.to_string()), (rate.into(), bits.into()));
        // One bar of count-in and two repeats of one beat each.
        let beat = 60.0 / 137.0 * f64::from(spec.sample_rate);
        let wanted: Vec<usize> = (0..6).map(|k| (beat * f64::from(k)).round() as usize).collect();
        assert_eq!(starts(&samples, spec.sample_rate), wanted);
        assert!(run.out.contains(&format!("--click-start {:.6}", 4.0 * 60.0 / 137.0)), "{}", run.out);
    }
}

#[test]
fn the_first_beat_of_a_bar_is_louder() {
    let place = Place::new();
    place.run(["click", place.file("drill.toml", DRILL), "-o", "click.wav"]).done();
    let (samples, spec) = read(&place, "click.wav");
    let heights: Vec<i32> = starts(&samples, spec.sample_rate).into_iter().map(|i| samples[i]).collect();
    assert!(heights[0] == heights[4] && heights[1..4].iter().all(|h| *h < heights[0]), "{heights:?}");
}

#[test]
fn rising_tempos_follow_one_another_and_their_table_says_where() {
    let place = Place::new();
    let drill = place.file("drill.toml", DRILL);
    place.run(["click", drill, "-o", "click.wav", "--tempo", "100,120", "--table", "steps.toml"]).done();
    // At 100: four beats counted in, two played, one bar of rest; then the count-in at 120.
    let (samples, spec) = read(&place, "click.wav");
    let at = |s: f64| (s * f64::from(spec.sample_rate)).round() as usize;
    let found = starts(&samples, spec.sample_rate);
    for k in 0..6 {
        assert!(found.contains(&at(0.6 * f64::from(k))), "{k}: {found:?}");
    }
    assert!(place.read("steps.toml").contains("120"));
}

#[test]
fn a_click_of_no_known_kind_or_no_sense_is_refused() {
    let place = Place::new();
    let drill = place.file("drill.toml", DRILL);
    place.run(["click", drill, "-o", "click.ogg"]).stopped(2, ".wav or .mid");
    place.run(["click", drill, "-o", "click.wav", "--rate", "4000"]).stopped(2, "8000 to 192000");
    place.run(["click", drill, "-o", "click.wav", "--tempo", "-5"]);
    assert_eq!(place.names(), ["drill.toml"]);
}
