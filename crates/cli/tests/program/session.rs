//! `takegauge session`.

use crate::common::{Place, committed, fits};

#[test]
fn takes_in_order_with_their_rests_keep_the_stated_shape() {
    let place = Place::new();
    let (take, drill) = (committed("late_inside", "flac"), committed("late_inside", "toml"));
    let words = ["session", &take, &take, &take, "--drill", &drill, "--rests", "60,120", "--json", "-"];
    let report = place.run(words).done().json();
    fits(&report, "session-1.json");
    assert_eq!(report["takes"].as_array().unwrap().len(), 3);
    let rests: Vec<f64> = report["rests"].as_array().unwrap().iter().map(|r| r["rest_s"].as_f64().unwrap()).collect();
    assert_eq!(rests, [60.0, 120.0]);
}

#[test]
fn a_wrong_number_of_rests_is_refused() {
    let (take, drill) = (committed("late_inside", "flac"), committed("late_inside", "toml"));
    Place::new().run(["session", &take, &take, "--drill", &drill, "--rests", "1,2,3,4"]).stopped(2, "--rests");
}
