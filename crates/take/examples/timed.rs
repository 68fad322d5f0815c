//! When the notes and extras of a take were struck, heard and looked at again by weights of one's own:
//! `cargo run --release -p takegauge-take --example timed -- QUICK THOROUGH TAKE DRILL`. For judging an ear by guitars that it
//! has not heard (tests/measure/guitars_left_out.py).

use std::error::Error;
use std::path::Path;
use takegauge_align::{Options, Timebase, align};
use takegauge_audio::{ChannelChoice, read_all};
use takegauge_drill::Drill;
use takegauge_listen::Listener;
use takegauge_locate::Weights;
use takegauge_measure::SecondLook;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [quick, thorough, take, drill] = words.as_slice() else {
        return Err("usage: timed QUICK THOROUGH TAKE DRILL".into());
    };
    let weights = |path: &str| -> Result<Weights, Box<dyn Error>> { Ok(Weights::parse(&std::fs::read(path)?)?) };
    let drill = Drill::read(drill)?;
    let (samples, summary) = read_all(Path::new(take), ChannelChoice::default())?;
    let rate = summary.info.sample_rate_hz;
    let mut listener = Listener::with_weights(rate, weights(quick)?);
    listener.push(&samples);
    let attacks = listener.finish_all();
    let grid = drill.grid();
    let options = Options { tempo: None, tempo_in_name: None, timebase: Timebase::Steady };
    let alignment = align(&attacks, rate, &grid, &drill, &options)?;
    let mut second = SecondLook::new(rate, &grid, &drill, alignment, &attacks).with_weights(weights(thorough)?);
    second.push(&samples);
    let measured = second.finish();
    let notes = measured.alignment.passes.iter().flat_map(|p| &p.notes).filter_map(|n| n.played.zip(n.uncertainty));
    let extras = measured.extra.iter().filter_map(|m| Some((m.played, attacks.get(m.extra.attack)?.uncertainty)));
    let mut onsets: Vec<_> = notes.chain(extras).collect();
    onsets.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    let onsets: Vec<_> =
        onsets.iter().map(|(at, sd)| serde_json::json!({"time_s": at.0, "uncertainty_ms": sd.0})).collect();
    println!("{}", serde_json::json!({ "onsets": onsets }));
    Ok(())
}
