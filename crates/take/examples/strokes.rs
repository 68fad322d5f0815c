//! What the rule for extra notes sees in a take, a line of JSON for every place beside the drill's notes where a string may
//! have been struck: `cargo run --release -p takegauge-take --example strokes -- TAKE DRILL`. For fitting its weights
//! (tests/measure/extras.py).

mod shared;

use std::error::Error;
use takegauge_locate::{Size, Weights};

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [take, drill] = words.as_slice() else { return Err("usage: strokes TAKE DRILL".into()) };
    let (seen, _) = shared::seen(take, drill, [Size::Quick, Size::Thorough].map(Weights::built_in))?;
    for (at, stroke) in seen.strokes {
        println!("{}", serde_json::json!({"at_s": at.0, "weighed": stroke.weighed()}));
    }
    Ok(())
}
