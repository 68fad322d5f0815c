//! The attacks of a recording by weights of one's own, as `takegauge onsets --json -` prints them:
//! `cargo run --release -p takegauge-listen --example attacks -- WEIGHTS TAKE`. For guitars that a fit left out.

use std::error::Error;
use std::path::Path;
use takegauge_audio::{ChannelChoice, TakeReader};
use takegauge_listen::Listener;
use takegauge_locate::Weights;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [weights, take] = words.as_slice() else { return Err("usage: attacks WEIGHTS TAKE".into()) };
    let weights = Weights::parse(&std::fs::read(weights)?)?;
    let mut reader = TakeReader::open(Path::new(take), ChannelChoice::default())?;
    let rate = reader.sample_rate();
    let mut listener = Listener::with_weights(rate, weights);
    while let Some(block) = reader.next_block()? {
        listener.push(block);
    }
    let onsets: Vec<_> = listener
        .finish()
        .iter()
        .map(|a| serde_json::json!({"time_s": a.at.seconds(rate).0, "uncertainty_ms": a.uncertainty.0}))
        .collect();
    println!("{}", serde_json::json!({ "onsets": onsets }));
    Ok(())
}
