//! What the rule for extra notes sees in a take, a line of JSON for every place beside the drill's notes where a string may
//! have been struck: `cargo run --release -p takegauge-take --example strokes -- TAKE DRILL`. For fitting its weights
//! (tests/measure/extras.py).

use std::error::Error;
use std::path::Path;
use takegauge_align::{Options, Timebase, align};
use takegauge_audio::{ChannelChoice, read_all};
use takegauge_drill::Drill;
use takegauge_listen::Listener;
use takegauge_measure::SecondLook;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [take, drill] = words.as_slice() else { return Err("usage: strokes TAKE DRILL".into()) };
    let drill = Drill::read(drill)?;
    let (samples, summary) = read_all(Path::new(take), ChannelChoice::default())?;
    let rate = summary.info.sample_rate_hz;
    let mut listener = Listener::new(rate);
    listener.push(&samples);
    let attacks = listener.finish_all();
    let grid = drill.grid();
    let options = Options { tempo: None, tempo_in_name: None, timebase: Timebase::Steady };
    let alignment = align(&attacks, rate, &grid, &drill, &options)?;
    let mut second = SecondLook::new(rate, &grid, &drill, alignment, &attacks);
    second.push(&samples);
    for (at, stroke) in second.finish().strokes {
        println!("{}", serde_json::json!({"at_s": at.0, "weighed": stroke.weighed()}));
    }
    Ok(())
}
