//! What the rules for extra notes see in a take, a line of JSON for every place beside the drill's notes where a string may
//! have been struck: `cargo run --release -p takegauge-take --example strokes -- TAKE DRILL`; with `--beginnings` for every
//! extra that may be another sound than a string's. For fitting their weights (tests/measure/extras.py, other_sounds.py).

mod shared;

use std::error::Error;
use takegauge_locate::{Size, Weights};

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let (take, drill, beginnings) = match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        [take, drill] => (take, drill, false),
        [take, drill, "--beginnings"] => (take, drill, true),
        _ => return Err("usage: strokes TAKE DRILL [--beginnings]".into()),
    };
    let (seen, _) = shared::seen(take, drill, [Size::Quick, Size::Thorough].map(Weights::built_in))?;
    let rows: Vec<(f64, Vec<f64>)> = if beginnings {
        seen.beginnings.iter().map(|(at, weighed)| (at.0, weighed.to_vec())).collect()
    } else {
        seen.strokes.iter().map(|(at, stroke)| (at.0, stroke.weighed().to_vec())).collect()
    };
    for (at, weighed) in rows {
        println!("{}", serde_json::json!({"at_s": at, "weighed": weighed}));
    }
    Ok(())
}
