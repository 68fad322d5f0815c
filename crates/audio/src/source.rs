//! A file's packets, decoded to one plane of f32 a channel, on the file's own time line.

use crate::AudioError;
use crate::codec;
use crate::edits::{self, Trim};
use crate::guard;
use crate::open;
use crate::pcm::Layout;
use crate::sniff::{ChunkHeader, Patched};
use std::path::{Path, PathBuf};
use symphonia::core::codecs::audio::well_known::{CODEC_ID_AAC, CODEC_ID_FLAC, CODEC_ID_MP3, CODEC_ID_VORBIS};
use symphonia::core::codecs::audio::{AudioCodecId, AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::well_known::{
    FORMAT_ID_ADTS, FORMAT_ID_ISOMP4, FORMAT_ID_MKV, FORMAT_ID_MP3, FORMAT_ID_OGG,
};
use symphonia::core::formats::{FormatReader, TrackType};
use symphonia::core::packet::Packet;
use takegauge_units::SampleRate;

/// Errors in a row after which a damaged stream counts as over.
const MAX_ERRORS_IN_A_ROW: u32 = 100;
/// A gap in the packets' time stamps longer than this is damage to the time stamps, not lost sound.
const MAX_GAP_S: u64 = 60;

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
    /// Time stamp of the last packet decoded.
    last_ticks: Option<i64>,
    warnings: Vec<String>,
    ended: bool,
}

/// Packets that could not be decoded, and the silence put in their place.
#[derive(Debug, Default)]
struct Lost {
    packets: u64,
    first_at: u64,
    in_a_row: u32,
}

impl Source {
    /// Opens a file, finds its sound track and decodes the first packet.
    pub(crate) fn open(path: &Path) -> Result<Self, AudioError> {
        let (file, len) = open::file(path)?;
        let (file, wav) = open::look_at_head(path, file, len)?;
        let patched = Patched::new(file, len, wav.as_ref())
            .map_err(|source| AudioError::Read { path: path.to_path_buf(), source })?;
        let format = open::probe(path, patched)?;
        let Some(track) = format.default_track(TrackType::Audio).cloned() else {
            return Err(open::no_track(path, format.as_ref()));
        };
        let params = track.codec_params.as_ref().and_then(|p| p.audio()).cloned().unwrap_or_default();
        let unsupported = |codec| AudioError::UnsupportedCodec { path: path.to_path_buf(), codec };
        if let Some(name) = codec::refused(&params) {
            return Err(unsupported(name));
        }
        // Without a tag Symphonia cuts the end at a length guessed from the bit rate.
        let untagged_mp3 = format.format_info().format == FORMAT_ID_MP3 && track.delay.is_none();
        let options = AudioDecoderOptions::default().gapless(!untagged_mp3);
        let decoder = guard::caught(|| symphonia::default::get_codecs().make_audio_decoder(&params, &options))
            .and_then(Result::ok)
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
            skip: 0,
            keep: None,
            decoded: 0,
            given: 0,
            declared: declared.map(|frames| wav.map_or(frames, |w| w.promised(frames))),
            declared_exact: !untagged_mp3,
            lost: Lost::default(),
            last_ticks: None,
            warnings: Vec::new(),
            ended: false,
            format,
            decoder,
        };
        source.trim_edits()?;
        let first_ticks = source.prime()?;
        source.settle_time_zero(untagged_mp3, first_ticks);
        source.note_wav_header(wav);
        Ok(source)
    }

    pub(crate) fn rate(&self) -> SampleRate {
        self.rate
    }

    pub(crate) fn channels(&self) -> u16 {
        self.planes.len() as u16
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

    /// The warnings, once everything was read.
    pub(crate) fn finish(mut self) -> (u64, Vec<String>) {
        let rate = self.rate.as_f64();
        if self.lost.packets > 0 {
            self.warnings.push(format!(
                "{} damaged packet(s) could not be decoded, the first at {:.3} s; silence stands in their place",
                self.lost.packets,
                self.lost.first_at as f64 / rate
            ));
        }
        if let Some(declared) = self.declared.filter(|_| self.declared_exact && self.ended) {
            let slack = match self.codec {
                _ if self.layout.is_some() => 0,
                CODEC_ID_FLAC => 0,
                // Some encoders count the frame that holds the tag.
                CODEC_ID_MP3 => 1152,
                // Other coders' last packets may rightly be short.
                _ => (0.1 * rate) as u64,
            };
            if self.given + slack < declared {
                self.warnings.push(format!(
                    "decoded {:.2} s of {:.2} s; the file ends early or is damaged{}",
                    self.given as f64 / rate,
                    declared as f64 / rate,
                    // MP3 frames carry no place: one lost in the middle moves all that follows.
                    if self.codec == CODEC_ID_MP3 {
                        ", and where sound is lost in the middle all later times are early"
                    } else {
                        ""
                    }
                ));
            }
        }
        if self.declared.is_none() && self.ended && self.format.format_info().format == FORMAT_ID_OGG {
            self.warnings.push(format!(
                "decoded {:.2} s; the file lacks its closing page, so it was cut there",
                self.given as f64 / rate
            ));
        }
        (self.given, self.warnings)
    }

    /// Applies an MP4 file's edit list or gapless tag.
    fn trim_edits(&mut self) -> Result<(), AudioError> {
        if self.format.format_info().format != FORMAT_ID_ISOMP4 {
            return Ok(());
        }
        let Trim { skip, keep, stated, notes } = edits::read(&self.path, self.track_id, self.rate.hz())
            .map_err(|source| AudioError::Read { path: self.path.clone(), source })?;
        if matches!(self.codec, CODEC_ID_AAC | CODEC_ID_MP3) && !stated {
            self.warn_uncertain("this file has no edit list", "20 to 60 ms");
        }
        self.warnings.extend(notes);
        self.skip = skip;
        self.keep = keep;
        self.declared = keep.or(self.declared.map(|d| d.saturating_sub(skip)));
        Ok(())
    }

    /// Decodes until there is sound, and takes the true rate and channel count from it. Returns the first packet's
    /// time stamp.
    fn prime(&mut self) -> Result<i64, AudioError> {
        if self.layout.is_some() && self.planes.is_empty() {
            return Err(AudioError::NoChannels { path: self.path.clone() });
        }
        let mut first_ticks = None;
        while self.planes.first().is_none_or(Vec::is_empty) {
            if !self.decode_next()? {
                let reason = if self.lost.packets > 0 { "every packet is damaged" } else { "it holds no samples" };
                return Err(open::no_samples(&self.path, self.format.as_ref(), reason));
            }
            first_ticks = first_ticks.or(self.last_ticks);
        }
        if !open::RATES_HZ.contains(&self.rate.hz()) {
            return Err(AudioError::Rate { path: self.path.clone(), rate_hz: self.rate.hz() });
        }
        self.primed = true;
        Ok(first_ticks.unwrap_or(0))
    }

    /// Removes the encoder's delay where the container states it as a negative time stamp, and says where nobody
    /// states it.
    fn settle_time_zero(&mut self, untagged_mp3: bool, first_ticks: i64) {
        let container = self.format.format_info().format;
        if untagged_mp3 {
            self.warn_uncertain("this MP3 has no LAME/Xing tag", "25 to 50 ms");
        } else if container == FORMAT_ID_ADTS {
            self.warn_uncertain("this is a raw AAC (ADTS) stream", "20 to 60 ms");
        } else if container == FORMAT_ID_MKV && matches!(self.codec, CODEC_ID_AAC | CODEC_ID_MP3) {
            if first_ticks < 0 {
                // Matroska counts in milliseconds; its demuxer has taken the stated codec delay off the stamps.
                self.skip = first_ticks.unsigned_abs() * u64::from(self.rate.hz()) / 1000;
            } else {
                self.warn_uncertain("this file states no codec delay", "20 to 60 ms");
            }
        }
    }

    fn warn_uncertain(&mut self, why: &str, by: &str) {
        self.warnings.push(format!(
            "{why}, so nothing says how much the encoder put before the first sample: all times may be late by the \
             same {by}; distances between notes are not affected"
        ));
    }

    fn note_wav_header(&mut self, wav: Option<ChunkHeader>) {
        let Some(wav) = wav else { return };
        let rate = self.rate.as_f64();
        if wav.left_open() {
            self.warnings.push(
                "the header does not say how long the recording is (a recorder that stopped without closing the \
                 file); all of it was read"
                    .to_owned(),
            );
        } else if wav.frames_beyond() > 0 {
            self.warnings.push(format!(
                "the header promises {:.1} s, but {:.1} s more follow it and were not read; export the take again",
                self.declared.unwrap_or(0) as f64 / rate,
                wav.frames_beyond() as f64 / rate
            ));
        }
    }

    /// Decodes one packet of the track into `planes` (which may stay empty); false at the end.
    fn decode_next(&mut self) -> Result<bool, AudioError> {
        if self.ended {
            return Ok(false);
        }
        if self.keep.is_some_and(|k| self.given >= k) {
            self.ended = true;
            return Ok(false);
        }
        loop {
            let next = guard::caught(|| self.format.next_packet());
            let packet = match next.unwrap_or_else(|| Err(broken())) {
                Ok(Some(packet)) => packet,
                Ok(None) => break,
                Err(Error::IoError(e)) if e.kind() == std::io::ErrorKind::UnexpectedEof => break,
                Err(Error::IoError(source)) => return Err(AudioError::Read { path: self.path.clone(), source }),
                Err(Error::ResetRequired) => {
                    self.warnings.push(format!(
                        "the file holds several recordings one after another; the first was read, up to {:.3} s",
                        self.given as f64 / self.rate.as_f64()
                    ));
                    break;
                }
                Err(e) => {
                    self.lost.in_a_row += 1;
                    if self.lost.in_a_row < MAX_ERRORS_IN_A_ROW && !is_broken(&e) {
                        continue;
                    }
                    self.warnings.push(format!("the rest of the file is damaged ({e})"));
                    break;
                }
            };
            if packet.track_id == self.track_id {
                return self.decode(&packet);
            }
        }
        self.ended = true;
        Ok(false)
    }

    fn decode(&mut self, packet: &Packet) -> Result<bool, AudioError> {
        self.last_ticks = Some(packet.pts.get());
        let gap = self.gap_before(packet);
        let ok = match self.layout {
            Some(layout) => {
                layout.unpack(&packet.data, &mut self.planes);
                true
            }
            None => match guard::caught(|| self.decoder.decode(packet)).unwrap_or_else(|| Err(broken())) {
                Ok(decoded) => {
                    let (rate_hz, channels) = (decoded.spec().rate(), decoded.num_planes());
                    if self.decoded > 0 && (rate_hz != self.rate.hz() || channels != self.planes.len()) {
                        return Ok(self.stop_at_change());
                    }
                    self.rate = SampleRate::new(rate_hz)
                        .ok_or_else(|| AudioError::Rate { path: self.path.clone(), rate_hz })?;
                    decoded.copy_to_vecs_planar(&mut self.planes);
                    true
                }
                Err(e) if is_broken(&e) => {
                    self.warnings.push(format!("the rest of the file is damaged ({e})"));
                    self.planes.iter_mut().for_each(Vec::clear);
                    self.ended = true;
                    return Ok(false);
                }
                Err(_) => false,
            },
        };
        if ok && gap == 0 {
            self.lost.in_a_row = 0;
        } else {
            self.note_lost();
        }
        if !ok {
            let frames = if self.ticks_are_frames { packet.dur.get().min(1 << 16) as usize } else { 0 };
            for plane in &mut self.planes {
                plane.clear();
                plane.resize(frames, 0.0);
            }
            self.ended = self.lost.in_a_row >= MAX_ERRORS_IN_A_ROW;
        }
        if gap > 0 {
            for plane in &mut self.planes {
                plane.splice(0..0, std::iter::repeat_n(0.0, gap));
            }
        }
        self.decoded += self.planes.first().map_or(0, Vec::len) as u64;
        Ok(true)
    }

    /// A stream whose rate or channels change cannot go on on one time line.
    fn stop_at_change(&mut self) -> bool {
        self.warnings.push(format!(
            "the recording changes its sample rate or channels at {:.3} s; it was read up to there",
            self.given as f64 / self.rate.as_f64()
        ));
        self.planes.iter_mut().for_each(Vec::clear);
        self.ended = true;
        false
    }

    fn note_lost(&mut self) {
        if self.lost.packets == 0 {
            self.lost.first_at = self.given;
        }
        self.lost.packets += 1;
        self.lost.in_a_row += 1;
    }

    /// Frames missing before this packet. The demuxers of FLAC and Ogg drop damaged frames and pages without a word,
    /// but what follows carries its place; other containers only count up, so nothing can be read from their stamps.
    fn gap_before(&self, packet: &Packet) -> usize {
        if !matches!(self.codec, CODEC_ID_FLAC | CODEC_ID_VORBIS) || !self.ticks_are_frames {
            return 0;
        }
        let at = u64::try_from(packet.pts.get()).unwrap_or(0);
        let gap = at.saturating_sub(self.decoded);
        let end = self.declared.unwrap_or(u64::MAX);
        if gap > MAX_GAP_S * u64::from(self.rate.hz()) || at > end { 0 } else { gap as usize }
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

const BROKEN: &str = "the decoder broke down on it";

/// Stands for a panic of Symphonia's; what panicked is not called again.
fn broken() -> Error {
    Error::Unsupported(BROKEN)
}

fn is_broken(e: &Error) -> bool {
    matches!(e, Error::Unsupported(BROKEN))
}
