//! From a name to a demuxer: the file opened, its first bytes looked at, its container recognised, and every way in
//! which that fails told apart.

use crate::AudioError;
use crate::forged;
use crate::guard;
use crate::limits;
use crate::long::{LongWav, Recast, Unread};
use crate::sniff::{self, ChunkHeader, Patched};
use std::fs::File;
use std::path::Path;
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatReader, Track, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream};

/// Sample rates that are read, in Hz.
pub(crate) const RATES_HZ: std::ops::RangeInclusive<u32> = 8_000..=192_000;

pub(crate) fn file(path: &Path) -> Result<(File, u64), AudioError> {
    let read = |source: std::io::Error| match source.kind() {
        std::io::ErrorKind::NotFound => AudioError::NotFound { path: path.to_path_buf() },
        std::io::ErrorKind::IsADirectory => AudioError::Directory { path: path.to_path_buf() },
        _ => AudioError::Read { path: path.to_path_buf(), source },
    };
    let meta = std::fs::metadata(path).map_err(read)?;
    if meta.is_dir() {
        return Err(AudioError::Directory { path: path.to_path_buf() });
    }
    if meta.len() == 0 {
        return Err(AudioError::Empty { path: path.to_path_buf() });
    }
    Ok((File::open(path).map_err(read)?, meta.len()))
}

/// What a file's first bytes told, and the stream that a demuxer is to read.
pub(crate) struct Head {
    pub(crate) stream: Box<dyn MediaSource>,
    pub(crate) wav: Option<ChunkHeader>,
    pub(crate) long: Option<LongWav>,
}

/// Refuses what is known not to be readable, and reads a WAV file's claims.
pub(crate) fn look_at_head(path: &Path, mut file: File, len: u64) -> Result<Head, AudioError> {
    let read_error = |source| AudioError::Read { path: path.to_path_buf(), source };
    let mut head = [0u8; 16];
    let n = sniff::read_up_to(&mut file, &mut head).map_err(read_error)?;
    if let Some((container, advice)) = sniff::refused(&head[..n]) {
        return Err(AudioError::UnsupportedContainer { path: path.to_path_buf(), container, advice });
    }
    let long = match LongWav::read(&mut file, len).map_err(read_error)? {
        Ok(long) => Some(long),
        Err(Unread::Other) => None,
        Err(Unread::Cut) => {
            return Err(AudioError::NoSamples {
                path: path.to_path_buf(),
                format: "long WAV (RF64, BW64, W64)".to_owned(),
                reason: "its chunks lead to no sound".to_owned(),
            });
        }
        Err(Unread::Coding) => {
            let codec = "something else than PCM of 16, 24, 32 or 64 bits".to_owned();
            return Err(AudioError::UnsupportedCodec { path: path.to_path_buf(), codec });
        }
    };
    if let Some(long) = long {
        claims(path, long.channels, Some(long.rate_hz))?;
        return Ok(Head { stream: Box::new(Recast::new(file, &long)), wav: None, long: Some(long) });
    }
    let wav = ChunkHeader::read(&mut file, len).map_err(read_error)?;
    match &wav {
        Some(w) => claims(path, w.channels, w.rate_hz)?,
        None => forged::packet_table(path, &mut file)?,
    }
    let stream = Patched::new(file, len, wav.as_ref()).map_err(read_error)?;
    Ok(Head { stream: Box::new(stream), wav, long: None })
}

/// Channels and rate that a head states are ones that are read.
fn claims(path: &Path, channels: u16, rate_hz: Option<u32>) -> Result<(), AudioError> {
    if channels == 0 {
        return Err(AudioError::NoChannels { path: path.to_path_buf() });
    }
    limits::channels(path, usize::from(channels))?;
    match rate_hz.filter(|r| !RATES_HZ.contains(r)) {
        Some(rate_hz) => Err(AudioError::Rate { path: path.to_path_buf(), rate_hz }),
        None => Ok(()),
    }
}

pub(crate) fn probe(path: &Path, stream: Box<dyn MediaSource>) -> Result<Box<dyn FormatReader>, AudioError> {
    let mut hint = Hint::new();
    if let Some(ext) = path.extension().and_then(|e| e.to_str()) {
        hint.with_extension(ext);
    }
    let stream = MediaSourceStream::new(stream, Default::default());
    let probed =
        guard::caught(|| symphonia::default::get_probe().probe(&hint, stream, Default::default(), Default::default()));
    let probed = probed.unwrap_or(Err(Error::DecodeError("its header makes no sense")));
    probed.map_err(|e| match e {
        Error::IoError(source) if source.kind() != std::io::ErrorKind::UnexpectedEof => {
            AudioError::Read { path: path.to_path_buf(), source }
        }
        Error::Unsupported(what) if what.contains("no suitable format reader") => {
            AudioError::NotAudio { path: path.to_path_buf() }
        }
        Error::Unsupported(what) if what.contains("missing moov") => AudioError::NoSamples {
            path: path.to_path_buf(),
            format: "MP4".to_owned(),
            reason: "it was cut off before its index, which comes last".to_owned(),
        },
        other => AudioError::NoSamples {
            path: path.to_path_buf(),
            format: "damaged audio".to_owned(),
            reason: other.to_string(),
        },
    })
}

/// Frames that the container declares for the track, without the encoder's own where it knows them.
pub(crate) fn declared_frames(format: &dyn FormatReader, track: &Track, rate_hz: u32) -> Option<u64> {
    track.num_frames.or_else(|| {
        // A whole file's duration is its sound's only where there is nothing else in it.
        let whole = if format.tracks().len() == 1 { format.media_info().duration } else { None };
        let base = track.time_base.or(format.media_info().time_base)?;
        let ticks = track.duration.or(whole)?.get();
        let seconds = u128::from(ticks) * u128::from(base.numer.get());
        u64::try_from(seconds * u128::from(rate_hz) / u128::from(base.denom.get())).ok()
    })
}

pub(crate) fn no_track(path: &Path, format: &dyn FormatReader) -> AudioError {
    let unknown = format.tracks().iter().any(|t| t.track_type().is_none() || t.track_type() == Some(TrackType::Audio));
    if unknown {
        AudioError::UnsupportedCodec { path: path.to_path_buf(), codec: "a codec unknown here".to_owned() }
    } else {
        AudioError::NoAudioTrack { path: path.to_path_buf() }
    }
}

pub(crate) fn no_samples(path: &Path, format: &dyn FormatReader, reason: &str) -> AudioError {
    AudioError::NoSamples {
        path: path.to_path_buf(),
        format: format.format_info().short_name.to_owned(),
        reason: reason.to_owned(),
    }
}
