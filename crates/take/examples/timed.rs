//! When the notes and extras of a take were struck, heard and looked at again by weights of one's own:
//! `cargo run --release -p takegauge-take --example timed -- QUICK THOROUGH TAKE DRILL`. For judging an ear by guitars that it
//! has not heard (tests/measure/guitars_left_out.py).

mod shared;

use std::error::Error;
use takegauge_locate::Weights;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [quick, thorough, take, drill] = words.as_slice() else {
        return Err("usage: timed QUICK THOROUGH TAKE DRILL".into());
    };
    let weights = |path: &str| -> Result<Weights, Box<dyn Error>> { Ok(Weights::parse(&std::fs::read(path)?)?) };
    let (measured, attacks) = shared::seen(take, drill, [weights(quick)?, weights(thorough)?])?;
    let notes = measured.alignment.passes.iter().flat_map(|p| &p.notes).filter_map(|n| n.played.zip(n.uncertainty));
    let extras = measured.extra.iter().filter_map(|m| Some((m.played, attacks.get(m.extra.attack)?.uncertainty)));
    let mut onsets: Vec<_> = notes.chain(extras).collect();
    onsets.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    let onsets: Vec<_> =
        onsets.iter().map(|(at, sd)| serde_json::json!({"time_s": at.0, "uncertainty_ms": sd.0})).collect();
    println!("{}", serde_json::json!({ "onsets": onsets }));
    Ok(())
}
