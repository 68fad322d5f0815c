//! What is weighed of every candidate of a recording, as JSON, by weights of one's own for the instants:
//! `cargo run --release -p takegauge-listen --example weighed -- WEIGHTS TAKE`. For fitting how much each counts
//! (tests/measure/fit_attacks.py).

use std::error::Error;
use std::path::Path;
use takegauge_audio::{ChannelChoice, TakeReader};
use takegauge_listen::Listener;
use takegauge_locate::Weights;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [weights, take] = words.as_slice() else { return Err("usage: weighed WEIGHTS TAKE".into()) };
    let weights = Weights::parse(&std::fs::read(weights)?)?;
    let mut reader = TakeReader::open(Path::new(take), ChannelChoice::default())?;
    let rate = reader.sample_rate();
    let mut listener = Listener::with_weights(rate, weights);
    while let Some(block) = reader.next_block()? {
        listener.push(block);
    }
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
