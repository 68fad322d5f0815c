//! A film and a take from their files.

use crate::error::NoMatch;
use crate::narrow::{LONGEST_HOURS, Narrow, Narrower};
use crate::sound::{Clocks, match_sounds};
use std::path::Path;
use takegauge_audio::{AudioError, ChannelChoice, FrameLength, Recording, TakeReader, frame_length, path_text};
use takegauge_review::{CameraSection, MatchedBy};
use takegauge_stats::Estimate;
use takegauge_units::Seconds;

/// Why a film stands beside no take.
#[derive(Debug, thiserror::Error)]
pub enum CameraError {
    /// The film or the take cannot be read.
    #[error(transparent)]
    Audio(#[from] AudioError),
    /// Both can, and do not belong together.
    #[error("{film}: {source}")]
    NoMatch {
        /// The film's path.
        film: String,
        /// What was seen.
        source: NoMatch,
    },
    /// The file has sound and no picture.
    #[error("{film}: it has no picture. Name the film itself, not a sound track that was taken out of it")]
    NoPicture {
        /// The film's path.
        film: String,
    },
    /// Whoever asked has thought better of it.
    #[error("stopped before the film was matched")]
    Stopped,
}

/// Told the share that is done, 0 to 1; says whether to go on.
pub type GoOn<'a> = &'a dyn Fn(f64) -> bool;

/// Frames that differ by more than this make a variable rate: time stamps of whole milliseconds differ by one.
const VARIES_MS: f64 = 2.0;

/// Lays a film's sound over a take's. `sha256` is the hash of the film's bytes, by which its file is known again.
///
/// # Errors
/// [`CameraError`].
pub fn film_of<'a>(
    take: impl Into<Recording<'a>>,
    channel: ChannelChoice,
    film: &Path,
    sha256: String,
    go_on: GoOn<'_>,
) -> Result<CameraSection, CameraError> {
    let (take, name) = (take.into(), path_text(film));
    let Some(frames) = frame_length(film)? else { return Err(CameraError::NoPicture { film: name }) };
    let no_match = |source| CameraError::NoMatch { film: name.clone(), source };
    if same_file(take.path(), film) {
        let (starts, sound) = (TakeReader::open(film, channel)?.starts_at(), length(film, channel, go_on)?);
        return Ok(section(name, sha256, None, starts, sound, &frames));
    }
    let (_, take_sound) = narrow(take, channel, "the take", &|share| go_on(0.2 * share), &no_match)?;
    let (starts, film_sound) =
        narrow(film.into(), ChannelChoice::Auto, "the film's sound", &|share| go_on(0.2 + 0.6 * share), &no_match)?;
    let clocks = match_sounds(&take_sound, &film_sound).map_err(no_match)?;
    if !go_on(1.0) {
        return Err(CameraError::Stopped);
    }
    Ok(section(name, sha256, Some(clocks), starts, film_sound.duration(), &frames))
}

fn same_file(a: &Path, b: &Path) -> bool {
    std::fs::canonicalize(a).ok().zip(std::fs::canonicalize(b).ok()).is_some_and(|(a, b)| a == b)
}

/// How long a film's sound is.
fn length(film: &Path, channel: ChannelChoice, go_on: GoOn<'_>) -> Result<Seconds, CameraError> {
    let mut reader = TakeReader::open(film, channel)?;
    let (declared, mut read) = (reader.declared_frames().unwrap_or(0).max(1), 0u64);
    while let Some(block) = reader.next_block()? {
        read += block.len() as u64;
        if !go_on((read as f64 / declared as f64).min(1.0)) {
            return Err(CameraError::Stopped);
        }
    }
    Ok(reader.finish().info.duration_s)
}

/// A recording as the matching takes it, and when its first sample is heard on its own time line.
fn narrow(
    recording: Recording<'_>,
    channel: ChannelChoice,
    which: &'static str,
    go_on: GoOn<'_>,
    no_match: &dyn Fn(NoMatch) -> CameraError,
) -> Result<(Seconds, Narrow), CameraError> {
    let mut reader = TakeReader::open(recording, channel)?;
    let (starts, declared) = (reader.starts_at(), reader.declared_frames().unwrap_or(0).max(1));
    let (mut narrower, mut read) = (Narrower::new(reader.sample_rate()), 0u64);
    while let Some(block) = reader.next_block()? {
        narrower.push(block);
        read += block.len() as u64;
        if narrower.too_long() {
            return Err(no_match(NoMatch::TooLong { which, hours: LONGEST_HOURS }));
        }
        if !go_on((read as f64 / declared as f64).min(1.0)) {
            return Err(CameraError::Stopped);
        }
    }
    Ok((starts, narrower.finish()))
}

/// Seconds to 1 us, milliseconds and millionths to a thousandth, as all of a report.
fn round(x: f64, digits: f64) -> f64 {
    let r = (x * digits).round() / digits;
    if r.is_finite() { r } else { 0.0 }
}

fn section(
    path: String,
    sha256: String,
    clocks: Option<Clocks>,
    starts: Seconds,
    sound: Seconds,
    frames: &FrameLength,
) -> CameraSection {
    let ends = |e: &Estimate, add: f64, digits: f64| {
        [round(e.interval.low + add, digits), round(e.interval.high + add, digits)]
    };
    let c = clocks.as_ref();
    let offset = c.map_or(0.0, |c| c.offset_s.value) + starts.0;
    let covers = c.map_or((Seconds(0.0), sound), |c| c.covers);
    let varies = frames.range.1.0 - frames.range.0.0 > VARIES_MS;
    CameraSection {
        text: text(c, offset, frames, varies),
        path,
        sha256,
        matched_by: if c.is_some() { MatchedBy::Sound } else { MatchedBy::SameFile },
        offset_s: round(offset, 1e6),
        offset_interval_s: c.map(|c| ends(&c.offset_s, starts.0, 1e6)),
        drift_ppm: c.map_or(0.0, |c| round(c.drift_ppm.value, 1e3)),
        drift_interval_ppm: c.map(|c| ends(&c.drift_ppm, 0.0, 1e3)),
        windows_agree: c.map_or(0, |c| c.agree),
        windows: c.map_or(0, |c| c.windows),
        scatter_ms: c.map_or(0.0, |c| round(c.scatter.0, 1e3)),
        covers_s: [round(covers.0.0, 1e6), round(covers.1.0, 1e6)],
        duration_s: round(sound.0, 1e6),
        frame_ms: Some(round(frames.usual.0, 1e3)),
        longest_frame_ms: varies.then(|| round(frames.range.1.0, 1e3)),
    }
}

fn text(clocks: Option<&Clocks>, offset_s: f64, frames: &FrameLength, varies: bool) -> String {
    let mut text = match clocks {
        None => "The take is the film's own sound.".to_owned(),
        Some(c) => {
            let half = |e: &Estimate| (e.interval.high - e.interval.low) / 2.0;
            let fast = if c.drift_ppm.value < 0.0 { "slower" } else { "faster" };
            format!(
                "The film shows this take: it starts at {offset_s:.3} s of the film (+-{:.2} ms), whose clock is {:.1} ppm \
                 {fast} (+-{:.1}); {} of {} stretches of sound agree. Sound needs about 3 ms a metre to the camera, which \
                 the film shows as lateness of the sound.",
                1e3 * half(&c.offset_s),
                c.drift_ppm.value.abs(),
                half(&c.drift_ppm),
                c.agree,
                c.windows
            )
        }
    };
    let (usual, longest) = (frames.usual.0, frames.range.1.0);
    if varies {
        text.push_str(&format!(" A frame is {usual:.1} ms, the longest {longest:.0} ms"));
    } else {
        text.push_str(&format!(" A frame is {usual:.1} ms"));
    }
    text.push_str(": what is shorter the film cannot show.");
    text
}
