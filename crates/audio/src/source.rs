//! A file's packets, decoded to one plane of f32 a channel, on the file's own time line: the file opened, its time
//! zero found, and what belongs to the take handed out.

mod lost;
mod packets;
mod warnings;

use crate::AudioError;
use crate::codec;
use crate::edits::{self, Trim};
use crate::forged;
use crate::guard;
use crate::limits::{self, Budget};
use crate::matroska;
use crate::open;
use crate::opus::{self, OpusDecoder};
use crate::pcm::Layout;
use lost::Lost;
use std::path::{Path, PathBuf};
use symphonia::core::codecs::audio::well_known::{CODEC_ID_AAC, CODEC_ID_MP3, CODEC_ID_OPUS};
use symphonia::core::codecs::audio::{AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::formats::well_known::{
    FORMAT_ID_ADTS, FORMAT_ID_ISOMP4, FORMAT_ID_MKV, FORMAT_ID_MP3, FORMAT_ID_OGG,
};
use symphonia::core::formats::{FormatReader, TrackType};
use takegauge_units::SampleRate;

/// Decoded planes of one packet at a time, trimmed to the take's own time.
pub(crate) struct Source {
    path: PathBuf,
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    layout: Option<Layout>,
    codec: AudioCodecId,
    track_id: u32,
    rate: SampleRate,
    /// One a channel, all of one length.
    planes: Vec<Vec<f32>>,
    /// The packet decoded at opening has not been handed out.
    primed: bool,
    /// Ticks of the packets' time stamps are sample frames.
    ticks_are_frames: bool,
    /// Frames that an Opus track's head says to drop at the start.
    pre_skip: Option<u64>,
    /// Ticks that stand before the file's first packet: of a stream that was tuned into.
    first_tick: u64,
    /// When, on the film's own time line, the sound track's first packet is to be heard, and what an edit puts before it.
    first_packet_s: Option<f64>,
    gap_s: f64,
    /// Frames still to be dropped at the start.
    skip: u64,
    /// Frames that may be handed out in all.
    keep: Option<u64>,
    /// Frames that came out of the decoder, dropped ones too.
    decoded: u64,
    /// Frames handed out.
    given: u64,
    declared: Option<u64>,
    declared_exact: bool,
    lost: Lost,
    /// Frames that may still come out of the file.
    budget: Budget,
    warnings: Vec<String>,
    ended: bool,
}

impl Source {
    /// Opens a file, finds its sound track and decodes the first packet.
    pub(crate) fn open(path: &Path) -> Result<Self, AudioError> {
        let (file, len) = open::file(path)?;
        let open::Head { stream, wav, long } = open::look_at_head(path, file, len)?;
        let format = open::probe(path, stream)?;
        if format.format_info().format == FORMAT_ID_ISOMP4 {
            forged::fragments(path)?;
        }
        let Some(track) = format.default_track(TrackType::Audio).cloned() else {
            return Err(open::no_track(path, format.as_ref()));
        };
        let mut params = track.codec_params.as_ref().and_then(|p| p.audio()).cloned().unwrap_or_default();
        limits::track(path, &params)?;
        let unsupported = |codec| AudioError::UnsupportedCodec { path: path.to_path_buf(), codec };
        if let Some(name) = codec::refused(&params) {
            return Err(unsupported(name));
        }
        // Without a tag Symphonia cuts the end at a length guessed from the bit rate.
        let untagged_mp3 = format.format_info().format == FORMAT_ID_MP3 && track.delay.is_none();
        let options = AudioDecoderOptions::default().gapless(!untagged_mp3);
        let head = opus::head(&params);
        if head.is_some() {
            params.sample_rate = Some(opus::RATE_HZ);
        }
        let decoder = guard::caught(|| decoder(&params, &options))
            .flatten()
            .ok_or_else(|| unsupported(codec::name(params.codec)))?;
        let rate_hz = params.sample_rate.unwrap_or(0);
        let rate = SampleRate::new(rate_hz).ok_or_else(|| AudioError::Rate { path: path.to_path_buf(), rate_hz })?;
        let declared = open::declared_frames(format.as_ref(), &track, rate_hz);
        let mut source = Self {
            path: path.to_path_buf(),
            layout: Layout::of(&params),
            codec: params.codec,
            track_id: track.id,
            rate,
            planes: vec![Vec::new(); params.channels.as_ref().map_or(0, |c| c.count())],
            primed: false,
            ticks_are_frames: track.time_base.is_some_and(|t| t.numer.get() == 1 && t.denom.get() == rate_hz),
            pre_skip: head.map(|h| u64::from(h.pre_skip)),
            first_tick: u64::try_from(track.start_ts.get()).unwrap_or(0),
            first_packet_s: None,
            gap_s: 0.0,
            skip: 0,
            keep: None,
            decoded: 0,
            given: 0,
            declared: declared.map(|frames| match (wav, long) {
                (Some(w), _) => w.promised(frames),
                (_, Some(l)) => l.promised(frames),
                _ => frames,
            }),
            budget: Budget::new(len, rate_hz),
            declared_exact: !untagged_mp3,
            lost: Lost::default(),
            warnings: Vec::new(),
            ended: false,
            format,
            decoder,
        };
        source.trim_edits()?;
        source.trim_opus()?;
        source.prime()?;
        source.settle_time_zero(untagged_mp3)?;
        if source.format.format_info().format == FORMAT_ID_MKV {
            // The packet's place has the encoder's delay taken off, in whole milliseconds; nobody hears what is dropped.
            source.gap_s = (1e3 * source.skip as f64 / source.rate.as_f64()).floor() / 1e3;
        }
        source.note_wav_header(wav);
        Ok(source)
    }

    pub(crate) fn rate(&self) -> SampleRate {
        self.rate
    }

    pub(crate) fn channels(&self) -> u16 {
        self.planes.len() as u16
    }

    /// When the first sample is to be heard, seconds on the time line that a film's sound and picture share; 0 where there
    /// is no film.
    pub(crate) fn starts_s(&self) -> f64 {
        let format = self.format.format_info().format;
        if !matches!(format, FORMAT_ID_ISOMP4 | FORMAT_ID_MKV) {
            return 0.0;
        }
        self.gap_s + self.first_packet_s.unwrap_or(0.0)
    }

    /// Frames that the container declares for the take.
    pub(crate) fn declared(&self) -> Option<u64> {
        self.declared
    }

    /// The next frames, one plane a channel, never empty; `None` at the end.
    pub(crate) fn next(&mut self) -> Result<Option<&mut Vec<Vec<f32>>>, AudioError> {
        while !self.ended || self.primed {
            if !std::mem::take(&mut self.primed) && !self.decode_next()? {
                break;
            }
            self.trim();
            let frames = self.planes.first().map_or(0, Vec::len);
            if frames > 0 {
                self.given += frames as u64;
                return Ok(Some(&mut self.planes));
            }
        }
        Ok(None)
    }

    /// Applies an MP4 file's edit list or gapless tag.
    fn trim_edits(&mut self) -> Result<(), AudioError> {
        if self.format.format_info().format != FORMAT_ID_ISOMP4 {
            return Ok(());
        }
        let Trim { skip, keep, stated, gap_s, notes } = edits::read(&self.path, self.track_id, self.rate.hz())
            .map_err(|source| AudioError::Read { path: self.path.clone(), source })?;
        if matches!(self.codec, CODEC_ID_AAC | CODEC_ID_MP3) && !stated {
            self.warn_uncertain("this file has no edit list", "20 to 60 ms");
        }
        self.warnings.extend(notes);
        self.gap_s = gap_s;
        let skip = if stated { skip } else { self.pre_skip.unwrap_or(skip) };
        self.skip = skip;
        self.keep = keep;
        self.declared = keep.or(self.declared.map(|d| d.saturating_sub(skip)));
        Ok(())
    }

    /// Applies what the head of an Opus track and its container say of the encoder's own frames; MP4 says it by edits.
    fn trim_opus(&mut self) -> Result<(), AudioError> {
        let container = self.format.format_info().format;
        let Some(pre_skip) = self.pre_skip.filter(|_| container != FORMAT_ID_ISOMP4) else { return Ok(()) };
        self.skip = pre_skip;
        if container == FORMAT_ID_OGG {
            // The last page counts the pre-skip in, and from the stream's start (RFC 7845, 4.3 and 4.4).
            self.declared = self.declared.map(|end| end.saturating_sub(self.first_tick).saturating_sub(pre_skip));
        } else if container == FORMAT_ID_MKV {
            let said = self.matroska()?;
            let frames = |ns: u64| nanoseconds_as_frames(ns, opus::RATE_HZ);
            self.skip = said.delay_ns.map_or(pre_skip, frames);
            self.keep =
                said.opus_frames.map(|all| all.saturating_sub(self.skip).saturating_sub(frames(said.padding_ns)));
        }
        Ok(())
    }

    fn matroska(&self) -> Result<matroska::Stated, AudioError> {
        matroska::read(&self.path, self.track_id).map_err(|source| AudioError::Read { path: self.path.clone(), source })
    }

    /// Decodes until there is sound, and takes the true rate and channel count from it.
    fn prime(&mut self) -> Result<(), AudioError> {
        if self.layout.is_some() && self.planes.is_empty() {
            return Err(AudioError::NoChannels { path: self.path.clone() });
        }
        while self.planes.first().is_none_or(Vec::is_empty) {
            if !self.decode_next()? {
                let reason = if self.lost.packets > 0 { "every packet is damaged" } else { "it holds no samples" };
                return Err(open::no_samples(&self.path, self.format.as_ref(), reason));
            }
        }
        if !open::RATES_HZ.contains(&self.rate.hz()) {
            return Err(AudioError::Rate { path: self.path.clone(), rate_hz: self.rate.hz() });
        }
        self.primed = true;
        Ok(())
    }

    /// Removes the encoder's delay where Matroska states it, and says where nobody states it.
    fn settle_time_zero(&mut self, untagged_mp3: bool) -> Result<(), AudioError> {
        let container = self.format.format_info().format;
        if untagged_mp3 {
            self.warn_uncertain("this MP3 has no LAME/Xing tag", "25 to 50 ms");
        } else if container == FORMAT_ID_ADTS {
            self.warn_uncertain("this is a raw AAC (ADTS) stream", "20 to 60 ms");
        } else if container == FORMAT_ID_MKV && matches!(self.codec, CODEC_ID_AAC | CODEC_ID_MP3) {
            match self.matroska()?.delay_ns {
                Some(ns) => self.skip = nanoseconds_as_frames(ns, self.rate.hz()),
                None => self.warn_uncertain("this file states no codec delay", "20 to 60 ms"),
            }
        }
        Ok(())
    }

    /// Drops what the encoder put before and after the take.
    fn trim(&mut self) {
        let frames = self.planes.first().map_or(0, Vec::len);
        let drop = self.skip.min(frames as u64) as usize;
        self.skip -= drop as u64;
        let room = self.keep.map_or(frames, |k| k.saturating_sub(self.given).min(frames as u64) as usize);
        for plane in &mut self.planes {
            if drop > 0 {
                plane.drain(..drop);
            }
            plane.truncate(room);
        }
    }
}

/// A decoder for a track: Symphonia's, or the one of Opus.
fn decoder(params: &AudioCodecParameters, options: &AudioDecoderOptions) -> Option<Box<dyn AudioDecoder>> {
    if params.codec == CODEC_ID_OPUS {
        return OpusDecoder::new(params).map(|d| Box::new(d) as Box<dyn AudioDecoder>);
    }
    symphonia::default::get_codecs().make_audio_decoder(params, options).ok()
}

/// To the nearest frame.
fn nanoseconds_as_frames(ns: u64, rate_hz: u32) -> u64 {
    const SECOND: u128 = 1_000_000_000;
    u64::try_from((u128::from(ns) * u128::from(rate_hz) + SECOND / 2) / SECOND).unwrap_or(u64::MAX)
}
