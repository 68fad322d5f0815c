//! The grid's time base: fitted, or given by a click.

use crate::error::TakeError;
use crate::hear::{Heard, clicks};
use crate::request::{Click, Request};
use crate::tempo::tempo_in_name;
use std::path::Path;
use takegauge_align::Timebase;
use takegauge_audio::ChannelChoice;
use takegauge_click::beats_heard;
use takegauge_units::{Decibels, Seconds};

pub(crate) fn timebase(request: &Request<'_>, heard: &Heard) -> Result<Timebase, TakeError> {
    let until = heard.take.duration_s;
    match &request.click {
        Click::None => Ok(Timebase::Steady),
        Click::Start(first) => {
            let faster = request.tempo.map_or(1.0, |t| t.0 / request.drill.tempo.0);
            let beat = request.drill.beat_seconds() / faster;
            if first.0 >= until.0 {
                return Err(TakeError::ClickStartsLate { ends: until, starts: *first });
            }
            Ok(Timebase::Click(even_beats(*first, Seconds(beat), until)))
        }
        Click::Channel(_) => beats(request, request.take.path(), &heard.clicks, until),
        Click::File(file) => beats(request, file, &clicks(file, ChannelChoice::Auto)?, until),
    }
}

/// The beats of a click that was heard in `file`, in the take's own time, up to its end.
fn beats(
    request: &Request<'_>,
    file: &Path,
    clicks: &[(Seconds, Decibels)],
    until: Seconds,
) -> Result<Timebase, TakeError> {
    let tempo = request.tempo.or_else(|| tempo_in_name(request.take.path())).unwrap_or(request.drill.tempo);
    beats_heard(clicks, request.drill, tempo, until)
        .map(Timebase::Click)
        .map_err(|source| TakeError::Click { file: file.display().to_string(), source })
}

/// 400 a minute for 12 hours, and as many again.
const MOST_BEATS: usize = 600_000;

/// Beats of one length from `first` on, up to `until`; at least three.
pub(crate) fn even_beats(first: Seconds, beat: Seconds, until: Seconds) -> Vec<Seconds> {
    // `as` saturates; a take of the longest and the shortest beats has fewer.
    let beats = (((until.0 - first.0) / beat.0).ceil() as usize).clamp(2, MOST_BEATS);
    (0..=beats).map(|k| first + beat * k as f64).collect()
}
