//! What the examples share that look at a take again by weights that they name.

use std::error::Error;
use std::path::Path;
use takegauge_align::{Options, Timebase, align};
use takegauge_audio::{ChannelChoice, read_all};
use takegauge_drill::Drill;
use takegauge_listen::Listener;
use takegauge_locate::Weights;
use takegauge_measure::{Measured, SecondLook};
use takegauge_units::Attack;

/// What the second look saw of a take and its drill, and the attacks that it was heard by.
pub(crate) fn seen(
    take: &str,
    drill: &str,
    [quick, thorough]: [Weights; 2],
) -> Result<(Measured, Vec<Attack>), Box<dyn Error>> {
    let drill = Drill::read(drill)?;
    let (samples, summary) = read_all(Path::new(take), ChannelChoice::default())?;
    let rate = summary.info.sample_rate_hz;
    let mut listener = Listener::with_weights(rate, quick);
    listener.push(&samples);
    let attacks = listener.finish_all();
    let grid = drill.grid();
    let options = Options { tempo: None, tempo_in_name: None, timebase: Timebase::Steady };
    let alignment = align(&attacks, rate, &grid, &drill, &options)?;
    let mut second = SecondLook::new(rate, &grid, &drill, alignment, &attacks).with_weights(thorough);
    second.push(&samples);
    Ok((second.finish(), attacks))
}
