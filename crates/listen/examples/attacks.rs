//! The attacks of a recording by weights of one's own, as `takegauge onsets --json -` prints them:
//! `cargo run --release -p takegauge-listen --example attacks -- WEIGHTS TAKE`. For guitars that a fit left out.

mod shared;

use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let (listener, rate) = shared::heard("attacks")?;
    let onsets: Vec<_> = listener
        .finish()
        .iter()
        .map(|a| serde_json::json!({"time_s": a.at.seconds(rate).0, "uncertainty_ms": a.uncertainty.0}))
        .collect();
    println!("{}", serde_json::json!({ "onsets": onsets }));
    Ok(())
}
