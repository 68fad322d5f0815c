//! A file's packets, decoded to one plane of f32 a channel, on the file's own time line.

use crate::AudioError;
use crate::codec;
use crate::edits::{self, Trim};
use crate::pcm::Layout;
use crate::sniff::{self, Patched, WavHeader};
use std::fs::File;
use std::path::{Path, PathBuf};
use symphonia::core::codecs::audio::well_known::{
    CODEC_ID_AAC, CODEC_ID_FLAC, CODEC_ID_MP1, CODEC_ID_MP2, CODEC_ID_MP3,
};
use symphonia::core::codecs::audio::{AudioCodecId, AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::well_known::{FORMAT_ID_ADTS, FORMAT_ID_ISOMP4};
use symphonia::core::formats::{FormatReader, Track, TrackType};
use symphonia::core::io::MediaSourceStream;
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
        let (file, len) = open_file(path)?;
        let read_error = |source| AudioError::Read { path: path.to_path_buf(), source };
        let (file, wav) = look_at_head(path, file, len)?;
        let patched = Patched::new(file, len, wav.as_ref()).map_err(read_error)?;
        let format = probe(path, patched)?;
        let track = format.default_track(TrackType::Audio).cloned();
        let Some(track) = track else {
            return Err(no_track(path, format.as_ref()));
        };
        let params = track.codec_params.as_ref().and_then(|p| p.audio()).cloned().unwrap_or_default();
        let unsupported = |codec| AudioError::UnsupportedCodec { path: path.to_path_buf(), codec };
        if let Some(name) = codec::refused(&params) {
            return Err(unsupported(name));
        }
        let is_mpeg = matches!(params.codec, CODEC_ID_MP1 | CODEC_ID_MP2 | CODEC_ID_MP3);
        // Without a tag Symphonia cuts the end at a length guessed from the bit rate.
        let untagged_mpeg = is_mpeg && track.delay.is_none() && format.format_info().format != FORMAT_ID_ISOMP4;
        let options = AudioDecoderOptions::default().gapless(!untagged_mpeg);
        let decoder = symphonia::default::get_codecs()
            .make_audio_decoder(&params, &options)
            .map_err(|_| unsupported(codec::name(params.codec)))?;
        let stated_rate = params.sample_rate.unwrap_or(0);
        let mut source = Self {
            path: path.to_path_buf(),
            layout: Layout::of(&params),
            codec: params.codec,
            track_id: track.id,
            rate: SampleRate::new(1).ok_or_else(|| no_samples(path, format.as_ref(), "no sample rate"))?,
            planes: vec![Vec::new(); params.channels.as_ref().map_or(0, |c| c.count())],
            primed: false,
            ticks_are_frames: track.time_base.is_some_and(|t| t.numer.get() == 1 && t.denom.get() == stated_rate),
            skip: 0,
            keep: None,
            decoded: 0,
            given: 0,
            declared: wav.and_then(|w| w.declared_frames()).or_else(|| frames_of(&track, stated_rate)),
            declared_exact: !untagged_mpeg,
            lost: Lost::default(),
            warnings: Vec::new(),
            ended: false,
            format,
            decoder,
        };
        source.settle_time_zero(untagged_mpeg, &track)?;
        source.prime(stated_rate)?;
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
            // A lossy coder's last packets may rightly be short; a lossless file's may not.
            let slack = if self.layout.is_some() || self.codec == CODEC_ID_FLAC { 0 } else { (0.1 * rate) as u64 };
            if self.given + slack < declared {
                self.warnings.push(format!(
                    "decoded {:.1} s of {:.1} s; the file ends early or is damaged, and everything after {:.3} s is missing",
                    self.given as f64 / rate,
                    declared as f64 / rate,
                    self.given as f64 / rate
                ));
            }
        }
        (self.given, self.warnings)
    }

    /// Works out how much the encoder put before the first sample, and says so where nobody knows.
    fn settle_time_zero(&mut self, untagged_mpeg: bool, track: &Track) -> Result<(), AudioError> {
        let container = self.format.format_info().format;
        let uncertain = |what: &str, ms: &str| {
            format!(
                "{what} does not say how much the encoder put before the first sample: all times may be late by the \
                 same {ms}; distances between notes are not affected"
            )
        };
        if untagged_mpeg {
            self.warnings.push(uncertain("this MP3 has no LAME/Xing tag and", "25 to 50 ms"));
        } else if container == FORMAT_ID_ADTS {
            self.warnings.push(uncertain("a raw AAC (ADTS) stream", "20 to 60 ms"));
        } else if container == FORMAT_ID_ISOMP4 {
            let rate_hz = track.codec_params.as_ref().and_then(|p| p.audio()).and_then(|a| a.sample_rate).unwrap_or(0);
            let trim = edits::read(&self.path, track.id, rate_hz)
                .map_err(|source| AudioError::Read { path: self.path.clone(), source })?;
            let Trim { skip, keep, stated, notes } = trim;
            if self.codec == CODEC_ID_AAC && !stated {
                self.warnings.push(uncertain("this AAC file", "20 to 60 ms"));
            }
            self.warnings.extend(notes);
            self.skip = skip;
            self.keep = keep;
            self.declared = match (self.declared, keep) {
                (_, Some(k)) => Some(k),
                (declared, None) => declared.map(|d| d.saturating_sub(skip)),
            };
        }
        Ok(())
    }

    /// Decodes until there is sound, and takes the true rate and channel count from it.
    fn prime(&mut self, stated_rate: u32) -> Result<(), AudioError> {
        let mut rate_hz = stated_rate;
        if self.layout.is_some() && self.planes.is_empty() {
            return Err(AudioError::NoChannels { path: self.path.clone() });
        }
        loop {
            if !self.decode_next()? {
                let reason = self.warnings.last().cloned().unwrap_or_else(|| "it holds no samples".to_owned());
                return Err(no_samples(&self.path, self.format.as_ref(), &reason));
            }
            if self.planes.first().is_some_and(|p| !p.is_empty()) {
                break;
            }
        }
        if self.layout.is_none() {
            rate_hz = self.decoder.last_decoded().spec().rate();
        }
        self.rate = SampleRate::new(rate_hz)
            .filter(|r| (8_000..=192_000).contains(&r.hz()))
            .ok_or_else(|| AudioError::Rate { path: self.path.clone(), rate_hz })?;
        self.primed = true;
        Ok(())
    }

    fn note_wav_header(&mut self, wav: Option<WavHeader>) {
        let Some(wav) = wav else { return };
        let rate = self.rate.as_f64();
        if wav.length_unknown() && wav.declared_bytes_zero() {
            self.warnings.push(
                "the header does not say how long the recording is (a recorder that stopped without closing the \
                 file); all of it was read"
                    .to_owned(),
            );
        } else if wav.frames_beyond() > 0 {
            self.warnings.push(format!(
                "the header promises {:.1} s, but {:.1} s more follow it and were not read; export the take again",
                wav.declared_frames().unwrap_or(0) as f64 / rate,
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
            let packet = match self.format.next_packet() {
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
                    if self.lost.in_a_row < MAX_ERRORS_IN_A_ROW {
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
        let gap = self.gap_before(packet);
        let planes_before = self.planes.len();
        let mut rate_now = self.rate.hz();
        let ok = match self.layout {
            Some(layout) => {
                layout.unpack(&packet.data, &mut self.planes);
                true
            }
            None => match self.decoder.decode(packet) {
                Ok(decoded) => {
                    rate_now = decoded.spec().rate();
                    decoded.copy_to_vecs_planar(&mut self.planes);
                    true
                }
                Err(_) => false,
            },
        };
        if self.decoded > 0
            && ok
            && (self.planes.len() != planes_before || (self.layout.is_none() && self.primed_rate_differs(rate_now)))
        {
            self.warnings.push(format!(
                "the recording changes its sample rate or channels at {:.3} s; it was read up to there",
                self.given as f64 / self.rate.as_f64()
            ));
            self.planes.resize(planes_before, Vec::new());
            self.planes.iter_mut().for_each(Vec::clear);
            self.ended = true;
            return Ok(false);
        }
        if ok {
            self.lost.in_a_row = 0;
        } else {
            self.note_lost();
            let frames = if self.ticks_are_frames { packet.dur.get().min(1 << 16) as usize } else { 0 };
            for plane in &mut self.planes {
                plane.clear();
                plane.resize(frames, 0.0);
            }
            if self.lost.in_a_row >= MAX_ERRORS_IN_A_ROW {
                self.ended = true;
            }
        }
        if gap > 0 {
            self.note_lost();
            for plane in &mut self.planes {
                plane.splice(0..0, std::iter::repeat_n(0.0, gap));
            }
        }
        self.decoded += self.planes.first().map_or(0, Vec::len) as u64;
        Ok(true)
    }

    fn primed_rate_differs(&self, rate_now: u32) -> bool {
        self.rate.hz() != 1 && rate_now != self.rate.hz()
    }

    fn note_lost(&mut self) {
        if self.lost.packets == 0 {
            self.lost.first_at = self.given;
        }
        self.lost.packets += 1;
        self.lost.in_a_row += 1;
    }

    /// Frames missing before this packet. FLAC's demuxer drops damaged frames without a word, but every frame
    /// carries its place; other containers only count up, so nothing can be read from their stamps.
    fn gap_before(&self, packet: &Packet) -> usize {
        if self.codec != CODEC_ID_FLAC || !self.ticks_are_frames {
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

fn open_file(path: &Path) -> Result<(File, u64), AudioError> {
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

/// Refuses what is known not to be readable, and reads a WAV file's claims.
fn look_at_head(path: &Path, mut file: File, len: u64) -> Result<(File, Option<WavHeader>), AudioError> {
    let read_error = |source| AudioError::Read { path: path.to_path_buf(), source };
    let mut head = [0u8; 16];
    let n = sniff::read_up_to(&mut file, &mut head).map_err(read_error)?;
    if let Some((container, advice)) = sniff::refused(&head[..n]) {
        return Err(AudioError::UnsupportedContainer { path: path.to_path_buf(), container, advice });
    }
    let wav = WavHeader::read(&mut file, len).map_err(read_error)?;
    if let Some(w) = &wav {
        if w.channels == 0 {
            return Err(AudioError::NoChannels { path: path.to_path_buf() });
        }
        if !(8_000..=192_000).contains(&w.rate_hz) {
            return Err(AudioError::Rate { path: path.to_path_buf(), rate_hz: w.rate_hz });
        }
    }
    Ok((file, wav))
}

fn probe(path: &Path, file: Patched) -> Result<Box<dyn FormatReader>, AudioError> {
    let mut hint = Hint::new();
    if let Some(ext) = path.extension().and_then(|e| e.to_str()) {
        hint.with_extension(ext);
    }
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    symphonia::default::get_probe().probe(&hint, stream, Default::default(), Default::default()).map_err(|e| match e {
        Error::IoError(source) if source.kind() != std::io::ErrorKind::UnexpectedEof => {
            AudioError::Read { path: path.to_path_buf(), source }
        }
        Error::Unsupported(what) if what.contains("no suitable format reader") => {
            AudioError::NotAudio { path: path.to_path_buf() }
        }
        other => AudioError::NoSamples {
            path: path.to_path_buf(),
            format: "damaged audio".to_owned(),
            reason: other.to_string(),
        },
    })
}

/// Frames that the container declares for the track, without the encoder's own.
fn frames_of(track: &Track, rate_hz: u32) -> Option<u64> {
    track.num_frames.or_else(|| {
        let (base, ticks) = (track.time_base?, track.duration?.get());
        let frames =
            u128::from(ticks) * u128::from(base.numer.get()) * u128::from(rate_hz) / u128::from(base.denom.get());
        u64::try_from(frames).ok()
    })
}

fn no_track(path: &Path, format: &dyn FormatReader) -> AudioError {
    let unknown = format.tracks().iter().any(|t| t.track_type().is_none() || t.track_type() == Some(TrackType::Audio));
    if unknown {
        AudioError::UnsupportedCodec { path: path.to_path_buf(), codec: "a codec unknown here".to_owned() }
    } else {
        AudioError::NoAudioTrack { path: path.to_path_buf() }
    }
}

fn no_samples(path: &Path, format: &dyn FormatReader, reason: &str) -> AudioError {
    AudioError::NoSamples {
        path: path.to_path_buf(),
        format: format.format_info().short_name.to_owned(),
        reason: reason.to_owned(),
    }
}
