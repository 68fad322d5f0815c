//! What is weighed of every candidate of a recording, as JSON, by weights of one's own for the instants:
//! `cargo run --release -p takegauge-listen --example weighed -- WEIGHTS TAKE`. For fitting how much each counts
//! (tests/measure/fit_attacks.py).

mod shared;

use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let (listener, rate) = shared::heard("weighed")?;
    // Infinite evidence has no place in JSON; no weight could make up for it.
    let candidates: Vec<_> = listener
        .finish_weighed()
        .iter()
        .filter(|w| w.terms.iter().all(|t| t.is_finite()))
        .map(|w| serde_json::json!({"time_s": w.at / rate.as_f64(), "terms": w.terms}))
        .collect();
    println!("{}", serde_json::json!({ "candidates": candidates }));
    Ok(())
}
