//! The plain form and the listener on the committed takes: SuperFlux at its published setting finds the attacks that
//! were played, and the listener names the same ones.
#![allow(clippy::unwrap_used, clippy::panic)]

use serde_json::Value;
use std::path::Path;
use takegauge_audio::{ChannelChoice, read_all};
use takegauge_listen::{Listener, plain};

/// Takes of test-audio/ and the least F of SuperFlux against the answers and against the listener: lower where the
/// line breaks off amid talk, and where the recording is driven and strokes are soft.
const TAKES: [(&str, f64); 8] = [
    ("late_inside", 0.975),
    ("mixed_errors", 0.975),
    ("smear_one_pair", 0.975),
    ("acoustic_room", 0.975),
    ("ladder_140", 0.975),
    ("ladder_220", 0.975),
    ("restarts", 0.955),
    ("driven_ticks_soft", 0.91),
];
/// Attacks are the same within this, ms (Böck, Krebs & Schedl 2012).
const WINDOW_MS: f64 = 25.0;
/// How much earlier and later than the listener SuperFlux puts nine attacks of ten, ms: its function peaks when the new
/// note has half filled the window.
const EARLIER_MS: f64 = 13.5;
const LATER_MS: f64 = 2.0;

/// F-measure, and the differences in ms of what is paired, sorted.
fn compare(these: &[f64], those: &[f64]) -> (f64, Vec<f64>) {
    let (mut i, mut k, mut apart) = (0, 0, Vec::new());
    while i < these.len() && k < those.len() {
        let ms = 1e3 * (these[i] - those[k]);
        if ms.abs() <= WINDOW_MS {
            apart.push(ms);
        }
        (i, k) = (i + usize::from(ms <= WINDOW_MS), k + usize::from(ms >= -WINDOW_MS));
    }
    apart.sort_by(f64::total_cmp);
    (2.0 * apart.len() as f64 / (these.len() + those.len()) as f64, apart)
}

#[test]
fn superflux_as_published_and_the_listener_name_the_same_attacks() {
    for (name, least) in TAKES {
        let stem = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../test-audio").join(name);
        let (samples, summary) = read_all(&stem.with_extension("flac"), ChannelChoice::Auto).unwrap();
        let answers: Value = serde_json::from_slice(&std::fs::read(stem.with_extension("json")).unwrap()).unwrap();
        let played: Vec<f64> = answers["attacks_s"].as_array().unwrap().iter().map(|t| t.as_f64().unwrap()).collect();
        let rate = summary.info.sample_rate_hz;

        let flux = plain::superflux(&samples, rate);
        let simple: Vec<f64> = plain::superflux_attacks(&flux).iter().map(|s| s.0).collect();
        let (f, _) = compare(&simple, &played);
        assert!(f >= least, "{name}: SuperFlux against the answers, F {f:.3}");

        let mut listener = Listener::new(rate);
        listener.push(&samples);
        let heard: Vec<f64> = listener.finish().iter().map(|a| a.at.seconds(rate).0).collect();
        let (f, apart) = compare(&simple, &heard);
        let (low, high) = (apart[apart.len() / 20], apart[apart.len() * 19 / 20]);
        assert!(f >= least, "{name}: SuperFlux against the listener, F {f:.3}");
        assert!(low > -EARLIER_MS && high < LATER_MS, "{name}: 5 % {low:.1}, 95 % {high:.1} ms from the listener");
    }
}
