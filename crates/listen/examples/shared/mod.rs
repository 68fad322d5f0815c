//! What the examples share that print what was heard by weights of one's own.

use std::error::Error;
use std::path::Path;
use takegauge_audio::{ChannelChoice, TakeReader};
use takegauge_listen::Listener;
use takegauge_locate::Weights;
use takegauge_units::SampleRate;

/// A listener that has heard the take named on `program`'s command line by the weights named there, and the take's rate.
pub(crate) fn heard(program: &str) -> Result<(Listener, SampleRate), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [weights, take] = words.as_slice() else { return Err(format!("usage: {program} WEIGHTS TAKE").into()) };
    let weights = Weights::parse(&std::fs::read(weights)?)?;
    let mut reader = TakeReader::open(Path::new(take), ChannelChoice::default())?;
    let rate = reader.sample_rate();
    let mut listener = Listener::with_weights(rate, weights);
    while let Some(block) = reader.next_block()? {
        listener.push(block);
    }
    Ok((listener, rate))
}
