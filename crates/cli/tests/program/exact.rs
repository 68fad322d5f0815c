//! A take played without any error deviates nowhere: the string model's sound through the whole program.

use crate::common::Place;
use proptest::prelude::*;
use takegauge_drill::Drill;
use takegauge_pluck::{Guitar, Player, Sound, perform, render};
use takegauge_units::Millis;

fn drill(tempo: u32) -> Drill {
    let text = format!(
        "name = \"Even\"\ntempo_bpm = {tempo}\nsteps_per_beat = 4\nbeats_per_bar = 4\nrepeats = 2\n\
         tuning = \"E2 A2 D3 G3 B3 E4\"\npicking = \"alternate\"\nfirst_stroke = \"down\"\n\
         line = \"5:5 5:7 4:5 4:7 3:5 3:7 2:6 2:8 1:5 1:8 2:8 2:6 3:7 3:5 4:7 4:5\"\n"
    );
    Drill::parse(&text, "even.toml").unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, max_shrink_iters: 0, failure_persistence: None, ..Default::default() })]

    #[test]
    fn an_exact_take_deviates_nowhere(
        seed in 0_u64..1_000,
        tempo in 90_u32..180,
        guitar in prop::sample::select(vec![Guitar::Bridge, Guitar::Neck, Guitar::Acoustic]),
    ) {
        let place = Place::new();
        let drill = drill(tempo);
        place.file("drill.toml", drill.to_toml());
        let player = Player { seed, spread: Millis(0.0), ..Player::default() };
        let sound = Sound { guitar, ..Sound::default() };
        let take = place.wav("take.wav", &render(&perform(&drill, &player), &sound).samples);
        let report = place.run(["score", take, "--json", "-"]).done().json();
        let notes = report["notes"].as_array().unwrap();
        prop_assert_eq!(notes.len(), 32);
        let worst = notes.iter().map(|n| n["deviation_ms"].as_f64().unwrap().abs()).fold(0.0, f64::max);
        prop_assert!(worst < 0.3, "a note deviates by {} ms", worst);
        prop_assert_eq!(&report["findings"], &serde_json::json!([]));
    }
}
