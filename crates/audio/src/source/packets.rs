//! One packet after another out of the demuxer and through the decoder; what is damaged or missing is replaced by
//! silence of its length, so that all that follows keeps its time.

use super::Source;
use crate::AudioError;
use crate::guard;
use crate::limits;
use symphonia::core::codecs::audio::well_known::{CODEC_ID_FLAC, CODEC_ID_OPUS, CODEC_ID_VORBIS};
use symphonia::core::errors::Error;
use symphonia::core::formats::well_known::FORMAT_ID_OGG;
use symphonia::core::packet::Packet;
use takegauge_units::SampleRate;

/// Errors in a row after which a damaged stream counts as over.
const MAX_ERRORS_IN_A_ROW: u32 = 100;
/// A gap in the packets' time stamps longer than this is damage to the time stamps, not lost sound.
const MAX_GAP_S: u64 = 60;

impl Source {
    /// Decodes one packet of the track into `planes` (which may stay empty); false at the end.
    pub(super) fn decode_next(&mut self) -> Result<bool, AudioError> {
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
            if packet.data.len() > limits::MOST_PACKET_BYTES {
                let what =
                    format!("a packet of {} bytes (at most {} are read)", packet.data.len(), limits::MOST_PACKET_BYTES);
                return Err(limits::too_much(&self.path, what));
            }
            if packet.track_id == self.track_id {
                self.first_packet_s.get_or_insert_with(|| {
                    let base = self.format.tracks().iter().find(|t| t.id == self.track_id).and_then(|t| t.time_base);
                    base.and_then(|b| b.calc_time(packet.pts)).map_or(0.0, |t| t.as_secs_f64())
                });
                return self.decode(&packet);
            }
        }
        self.ended = true;
        Ok(false)
    }

    fn decode(&mut self, packet: &Packet) -> Result<bool, AudioError> {
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
                    limits::channels(&self.path, channels)?;
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
            self.lost.note(self.given);
        }
        if !ok {
            let frames = match crate::opus::frames_of(&packet.data).filter(|_| self.codec == CODEC_ID_OPUS) {
                Some(frames) => frames as usize,
                None if self.ticks_are_frames => packet.dur.get().min(1 << 16) as usize,
                None => 0,
            };
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
        let frames = self.planes.first().map_or(0, Vec::len) as u64;
        self.lost.empty = if frames == 0 { self.lost.empty + 1 } else { 0 };
        if self.lost.empty > limits::MOST_EMPTY_PACKETS {
            self.warnings.push("the rest of the file is damaged (packets without sound)".to_owned());
            self.ended = true;
        }
        self.budget.spend(frames, &self.path)?;
        self.decoded += frames;
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

    /// Frames missing before this packet. The demuxers of FLAC and Ogg drop damaged frames and pages without a word,
    /// but what follows carries its place; other containers only count up, so nothing can be read from their stamps.
    fn gap_before(&self, packet: &Packet) -> usize {
        let ogg_opus = self.codec == CODEC_ID_OPUS && self.format.format_info().format == FORMAT_ID_OGG;
        if !(ogg_opus || matches!(self.codec, CODEC_ID_FLAC | CODEC_ID_VORBIS)) || !self.ticks_are_frames {
            return 0;
        }
        let at = u64::try_from(packet.pts.get()).unwrap_or(0).saturating_sub(self.first_tick);
        let gap = at.saturating_sub(self.decoded);
        let end = self.declared.unwrap_or(u64::MAX);
        if gap > MAX_GAP_S * u64::from(self.rate.hz()) || at > end { 0 } else { gap as usize }
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
