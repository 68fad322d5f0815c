//! Clicks for the browser: the drill's, to hear and to record to, and the one that tells a set-up's delay.

use crate::state::App;
use crate::trouble::Trouble;
use crate::work::blocking;
use std::path::Path;
use std::sync::Arc;
use takegauge_audio::{WavFormat, WavWriter};
use takegauge_click::{ClickOptions, ClickTrack};
use takegauge_drill::Drill;
use takegauge_pluck::sounded;
use takegauge_units::{Bpm, Millis, SampleRate, Seconds};

/// The longest click that a page plays.
const LONGEST: Seconds = Seconds(15.0 * 60.0);
/// Characters of a set-up's name.
pub(crate) const SET_UP: usize = 200;

/// Twelve clicks so far apart that no two delays of a set-up fit them alike.
const LOOPBACK: &str = "name = 'The delay of a set-up'\ntempo_bpm = 75\nsteps_per_beat = 1\nrepeats = 2\n\
                        tuning = 'standard'\npicking = 'alternate'\nline = '6:0 6:0 6:0 6:0'\n";

/// What a click is to be.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Wanted {
    pub(crate) tempo: Option<Bpm>,
    pub(crate) count_in_bars: u8,
    pub(crate) clicks_per_beat: u8,
    /// The drill's notes under the click.
    pub(crate) guide: bool,
    pub(crate) rate: SampleRate,
}

/// The drill and the click that tell a set-up's delay.
pub(crate) fn loopback() -> Result<(Drill, ClickTrack), Trouble> {
    let drill = Drill::parse(LOOPBACK, "loopback").map_err(|e| Trouble::Inside(e.to_string()))?;
    let track = ClickTrack::of(&drill, &ClickOptions::default()).map_err(|e| Trouble::Inside(e.to_string()))?;
    Ok((drill, track))
}

/// The click of a drill.
pub(crate) fn track(drill: &Drill, tempo: Option<Bpm>, count_in: u8, per_beat: u8) -> Result<ClickTrack, Trouble> {
    let options = ClickOptions {
        tempos: tempo.into_iter().collect(),
        count_in_bars: count_in,
        clicks_per_beat: per_beat,
        ..ClickOptions::default()
    };
    let track = ClickTrack::of(drill, &options).map_err(|e| Trouble::Wrong(format!("No click: {e}.")))?;
    if track.length > LONGEST {
        return Err(Trouble::Wrong(format!(
            "At this tempo the drill lasts {:.0} minutes; here a click lasts {:.0} at most. `takegauge click` writes longer ones, \
             and `takegauge drill alter` changes the repeats.",
            track.length.0 / 60.0,
            LONGEST.0 / 60.0
        )));
    }
    Ok(track)
}

/// When the first step of a drill is due, from its click's first sample.
pub(crate) fn first_step(drill: &Drill, tempo: Option<Bpm>, count_in: u8) -> Result<Seconds, Trouble> {
    let track = track(drill, tempo, count_in, 1)?;
    Ok(track.steps.first().map_or(Seconds(0.0), |s| s.notes_from))
}

/// The delay of a set-up, if it was measured.
pub(crate) async fn delay(app: &Arc<App>, set_up: String) -> Result<Option<Millis>, Trouble> {
    if set_up.is_empty() {
        return Ok(None);
    }
    let scorer = Arc::clone(&app.scorer);
    blocking(move || scorer.delay(&set_up).map_err(Trouble::Inside)).await
}

/// Writes a click to `path` as WAV, 24 bits.
pub(crate) fn write(
    path: &Path,
    drill: &Drill,
    track: &ClickTrack,
    rate: SampleRate,
    with_guide: bool,
) -> Result<(), Trouble> {
    let fail = |e: takegauge_audio::AudioError| Trouble::Inside(format!("The click cannot be written: {e}."));
    let mut file = WavWriter::create(path, rate, 1, WavFormat::Int24).map_err(fail)?;
    sounded(drill, track, rate, with_guide, |piece| file.write(piece)).map_err(fail)?;
    file.finish().map_err(fail)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_loopbacks_clicks_lie_further_apart_than_any_delay_is_sought() {
        let (_, track) = loopback().unwrap();
        assert_eq!(track.clicks.len(), 12);
        for late in [-0.09, 0.0, 0.2, 0.59] {
            let heard: Vec<Seconds> = track.clicks.iter().map(|c| Seconds(c.at.0 + late)).collect();
            // One lost at either end must not shift it by a beat.
            for heard in [&heard[..], &heard[1..], &heard[..11]] {
                let delay = track.delay(heard).unwrap();
                assert!((delay.median.0 - 1e3 * late).abs() < 0.1, "{late}: {delay:?}");
            }
        }
    }

    #[test]
    fn a_click_that_lasts_too_long_is_refused_with_advice() {
        let line = "6:1 ".repeat(16);
        let text = format!("name='t'\ntempo_bpm=40\nsteps_per_beat=1\nrepeats=60\ntuning='standard'\nline='{line}'");
        let drill = Drill::parse(&text, "t").unwrap();
        assert!(matches!(track(&drill, None, 1, 1), Err(Trouble::Wrong(t)) if t.contains("lasts 24 minutes")));
        assert!(track(&drill, Some(Bpm(200.0)), 1, 1).is_ok());
        assert_eq!(first_step(&drill, Some(Bpm(120.0)), 2).unwrap(), Seconds(4.0));
        assert!(matches!(track(&drill, Some(Bpm(200.0)), 9, 1), Err(Trouble::Wrong(_))));
    }
}
