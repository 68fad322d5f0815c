//! How long the frames of a film's picture last, from the time stamps of its first packets. No picture is decoded.

use crate::AudioError;
use crate::{forged, guard, open};
use std::path::Path;
use symphonia::core::formats::TrackType;
use symphonia::core::formats::well_known::FORMAT_ID_ISOMP4;
use takegauge_units::{Millis, Seconds};

/// Packets that are looked at, of all tracks: some ten seconds of film.
const MOST_PACKETS: usize = 4_000;
/// Time stamps are rounded to this, seconds, at worst.
const STAMPS_S: f64 = 0.001_5;
/// Frames that may be stored before an earlier one (ITU-T H.264, A.3.1 and E.2.1: 16).
const REORDERED: usize = 16;

/// Lengths of a film's frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrameLength {
    /// The mean of those near the median: with time stamps of whole milliseconds no frame is as long as it is meant to be.
    pub usual: Millis,
    /// The shortest and the longest; with a variable rate they differ by more than rounding.
    pub range: (Millis, Millis),
    /// When the first frame is shown, on the film's time line.
    pub first: Seconds,
    /// Frames looked at, from the film's start.
    pub frames: usize,
}

/// The frames of a film; `None` where the file has no picture, or one whose frames carry no times.
///
/// # Errors
/// A file that cannot be opened, or is no known container.
pub fn frame_length(path: &Path) -> Result<Option<FrameLength>, AudioError> {
    let (file, len) = open::file(path)?;
    let open::Head { stream, .. } = open::look_at_head(path, file, len)?;
    let mut format = open::probe(path, stream)?;
    if format.format_info().format == FORMAT_ID_ISOMP4 {
        forged::fragments(path)?;
    }
    let Some(track) = format.default_track(TrackType::Video) else { return Ok(None) };
    let (id, Some(base)) = (track.id, track.time_base) else { return Ok(None) };
    let mut shown: Vec<f64> = Vec::new();
    let mut more = true;
    for _ in 0..MOST_PACKETS {
        match guard::caught(|| format.next_packet()) {
            Some(Ok(Some(packet))) if packet.track_id == id => {
                shown.extend(base.calc_time(packet.pts).map(|t| t.as_secs_f64()));
            }
            Some(Ok(Some(_))) => {}
            _ => {
                more = false;
                break;
            }
        }
    }
    // Frames are stored in the order in which they are decoded: between the last ones others may be missing.
    shown.sort_by(f64::total_cmp);
    if more {
        shown.truncate(shown.len().saturating_sub(REORDERED));
    }
    let mut lengths: Vec<f64> = shown.windows(2).map(|w| w[1] - w[0]).filter(|d| *d > 0.0).collect();
    lengths.sort_by(f64::total_cmp);
    let (Some(first), Some(shortest), Some(longest)) = (shown.first(), lengths.first(), lengths.last()) else {
        return Ok(None);
    };
    let ms = |s: f64| Seconds(s).millis();
    let median = lengths[lengths.len() / 2];
    let near: Vec<f64> = lengths.iter().copied().filter(|d| (d - median).abs() < STAMPS_S).collect();
    Ok(Some(FrameLength {
        usual: ms(near.iter().sum::<f64>() / near.len().max(1) as f64),
        range: (ms(*shortest), ms(*longest)),
        first: Seconds(*first),
        frames: shown.len(),
    }))
}
