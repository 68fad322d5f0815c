//! Held against the string model, whose attack times are exact and whose pick touches and damps a sounding string a
//! few milliseconds before it lets go.
#![allow(clippy::unwrap_used, clippy::panic)]

use takegauge_listen::Listener;
use takegauge_pluck::{demo, scenes};

/// Errors in ms of each attack's nearest detection, and how many detections there are for how many attacks.
fn errors(scene: &scenes::Scene) -> (Vec<f64>, usize, usize) {
    let (performance, take) = scene.render();
    let mut listener = Listener::new(take.rate);
    listener.push(&take.samples);
    let heard: Vec<f64> = listener.finish().iter().map(|a| a.at.seconds(take.rate).0).collect();
    let attacks: Vec<f64> = performance.attacks().iter().map(|s| s.0).collect();
    let nearest = |t: f64| heard.iter().map(|h| (h - t) * 1e3).min_by(|a, b| a.abs().total_cmp(&b.abs()));
    (attacks.iter().filter_map(|t| nearest(*t)).filter(|e| e.abs() < 25.0).collect(), heard.len(), attacks.len())
}

fn holds(scene: &scenes::Scene) {
    let (mut e, heard, played) = errors(scene);
    assert!(e.len() * 100 >= played * 97, "{}: {} of {played} heard", scene.name, e.len());
    assert!(heard * 100 <= played * 103, "{}: {heard} heard, {played} played", scene.name);
    let close = e.iter().filter(|x| x.abs() <= 1.0).count();
    e.sort_by(f64::total_cmp);
    let (low, high) = (e[e.len() / 20], e[e.len() * 19 / 20]);
    let n = e.len();
    // A known shortfall, held here so that it does not grow: blind, the touch beside other ringing strings is taken for
    // the attack now and then, so that times come up to 5 ms early. The second look puts most of them right.
    assert!(low > -2.0 && high < 1.0, "{}: 5 % {low:.2}, 95 % {high:.2} ms", scene.name);
    assert!(close * 100 >= n * 90, "{}: {close} of {n} within 1 ms; 5 % {low:.2}, 95 % {high:.2} ms", scene.name);
}

#[test]
fn a_string_touched_before_it_is_struck_is_heard_once() {
    holds(&demo::scene().unwrap());
}

#[test]
fn other_tempos_and_lines() {
    for name in ["clean_slow", "clean_fast", "clean_limit", "late_one_pair", "smear_one_pair", "roll", "rests"] {
        holds(&scenes::by_name(name).unwrap());
    }
}
