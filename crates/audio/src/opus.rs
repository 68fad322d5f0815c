//! Opus, which Symphonia demultiplexes and does not decode, as a decoder of Symphonia's kind.
//!
//! The head by RFC 7845, section 5.1: always 48 kHz; `pre_skip` frames stand before the recording; the output gain is
//! in 1/256 dB. MP4 has the same fields the other way round (Encapsulation of Opus in ISO Base Media File Format,
//! section 4.3.2) and version 0. Packets by RFC 6716, decoded by the crate `opus-decoder`, to 16 bits.

use opus_decoder::{OpusDecoder as Rfc6716, OpusMultistreamDecoder};
use symphonia::core::audio::layouts::{CHANNEL_LAYOUT_MONO, CHANNEL_LAYOUT_STEREO};
use symphonia::core::audio::{
    AsGenericAudioBufferRef, AudioBuffer, AudioMut, AudioSpec, Channels, GenericAudioBufferRef,
};
use symphonia::core::codecs::CodecInfo;
use symphonia::core::codecs::audio::well_known::CODEC_ID_OPUS;
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, FinalizeResult};
use symphonia::core::errors::{Error, Result};
use symphonia::core::packet::PacketRef;

/// The one rate of decoding, Hz.
pub(crate) const RATE_HZ: u32 = 48_000;
const MAGIC: &[u8] = b"OpusHead";
const INFO: CodecInfo = CodecInfo { short_name: "opus", long_name: "Opus", profiles: &[] };

/// An identification header.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Head {
    /// Frames at 48 kHz that the decoder gives before the recording begins.
    pub(crate) pre_skip: u16,
    channels: u8,
    gain: f32,
    streams: u8,
    coupled: u8,
    /// The decoded channel behind each channel of the file.
    mapping: Vec<u8>,
}

impl Head {
    /// Reads a head; `None` where it is cut, or maps its channels in a way that is not for playing (RFC 7845, 5.1.1).
    pub(crate) fn read(data: &[u8]) -> Option<Self> {
        let body = data.strip_prefix(MAGIC)?;
        let (fixed, rest) = body.split_first_chunk::<11>()?;
        let channels = fixed[1];
        let (streams, coupled, mapping) = match (fixed[10], channels) {
            (0, 1) => (1, 0, vec![0]),
            (0, 2) => (1, 1, vec![0, 1]),
            (1 | 255, 1..) => (*rest.first()?, *rest.get(1)?, rest.get(2..2 + usize::from(channels))?.to_vec()),
            _ => return None,
        };
        let read = if fixed[0] == 0 { u16::from_be_bytes } else { u16::from_le_bytes };
        let (pre_skip, gain) = (read([fixed[2], fixed[3]]), read([fixed[8], fixed[9]]));
        let gain_db = f32::from(gain.cast_signed()) / 256.0;
        Some(Self { pre_skip, channels, gain: 10f32.powf(gain_db / 20.0), streams, coupled, mapping })
    }
}

/// Decodes the packets of one track.
pub(crate) struct OpusDecoder {
    params: AudioCodecParameters,
    head: Head,
    inner: OpusMultistreamDecoder,
    /// One packet, channels side by side.
    interleaved: Vec<f32>,
    buffer: AudioBuffer<f32>,
}

impl OpusDecoder {
    /// A decoder for a track; `None` where its head cannot be read.
    pub(crate) fn new(params: &AudioCodecParameters) -> Option<Self> {
        let head = Head::read(params.extra_data.as_deref()?)?;
        let channels = usize::from(head.channels);
        let (streams, coupled) = (usize::from(head.streams), usize::from(head.coupled));
        let inner = OpusMultistreamDecoder::new(RATE_HZ, channels, streams, coupled, &head.mapping).ok()?;
        let layout = match channels {
            1 => CHANNEL_LAYOUT_MONO,
            2 => CHANNEL_LAYOUT_STEREO,
            _ => Channels::Discrete(u16::from(head.channels)),
        };
        let buffer = AudioBuffer::new(AudioSpec::new(RATE_HZ, layout), Rfc6716::MAX_FRAME_SIZE_48K);
        let interleaved = vec![0.0; Rfc6716::MAX_FRAME_SIZE_48K * channels];
        Some(Self { params: params.clone(), head, inner, interleaved, buffer })
    }
}

impl AudioDecoder for OpusDecoder {
    fn reset(&mut self) {
        self.inner.reset();
    }

    fn codec_info(&self) -> &CodecInfo {
        &INFO
    }

    fn codec_params(&self) -> &AudioCodecParameters {
        &self.params
    }

    fn decode_ref(&mut self, packet: &PacketRef<'_>) -> Result<GenericAudioBufferRef<'_>> {
        self.buffer.clear();
        if packet.data.is_empty() {
            return Err(Error::DecodeError("opus: an empty packet"));
        }
        let frames = self
            .inner
            .decode_float(packet.data, &mut self.interleaved, false)
            .map_err(|_| Error::DecodeError("opus: a damaged packet"))?;
        self.buffer.render_silence(Some(frames));
        for (channel, plane) in self.buffer.iter_planes_mut().enumerate() {
            let heard = self.interleaved.iter().skip(channel).step_by(usize::from(self.head.channels));
            for (sample, x) in plane.iter_mut().zip(heard) {
                *sample = x * self.head.gain;
            }
        }
        // Ogg tells how much of its last packet is padding.
        self.buffer.trim(packet.trim_start.get() as usize, packet.trim_end.get() as usize);
        Ok(self.buffer.as_generic_audio_buffer_ref())
    }

    fn finalize(&mut self) -> FinalizeResult {
        FinalizeResult::default()
    }

    fn last_decoded(&self) -> GenericAudioBufferRef<'_> {
        self.buffer.as_generic_audio_buffer_ref()
    }
}

/// Frames at 48 kHz of a packet that begins with these bytes (RFC 6716, section 3.1); `None` where it is cut, or claims
/// more than the 120 ms that a packet may last.
pub(crate) fn frames_of(packet: &[u8]) -> Option<u64> {
    let toc = *packet.first()?;
    let frame = match toc >> 3 {
        n @ 0..12 => [480, 960, 1920, 2880][usize::from(n % 4)],
        n @ 12..16 => [480, 960][usize::from(n % 2)],
        n => [120, 240, 480, 960][usize::from(n % 4)],
    };
    let count = match toc & 3 {
        0 => 1,
        1 | 2 => 2,
        _ => u64::from(packet.get(1)? & 0x3f),
    };
    Some(frame * count).filter(|frames| (1..=5760).contains(frames))
}

/// The head of an Opus track.
pub(crate) fn head(params: &AudioCodecParameters) -> Option<Head> {
    if params.codec != CODEC_ID_OPUS {
        return None;
    }
    Head::read(params.extra_data.as_deref()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn head_of(channels: u8, gain: i16, tail: &[u8]) -> Vec<u8> {
        let mut head = [MAGIC, &[1, channels], &312u16.to_le_bytes(), &44_100u32.to_le_bytes()].concat();
        head.extend_from_slice(&gain.to_le_bytes());
        head.extend_from_slice(tail);
        head
    }

    #[test]
    fn heads_are_read_and_odd_ones_refused() {
        let mono = Head::read(&head_of(1, 0, &[0])).unwrap();
        assert_eq!((mono.pre_skip, mono.channels, mono.gain), (312, 1, 1.0));
        let surround = Head::read(&head_of(3, -1536, &[1, 2, 1, 0, 2, 1])).unwrap();
        assert_eq!((surround.streams, surround.coupled, surround.mapping), (2, 1, vec![0, 2, 1]));
        assert!((surround.gain - 0.501).abs() < 1e-3, "-6 dB");
        let in_mp4 = [MAGIC, &[0, 2, 1, 56, 0, 0, 0xac, 0x44, 0xfa, 0, 0]].concat();
        let in_mp4 = Head::read(&in_mp4).unwrap();
        assert_eq!(in_mp4.pre_skip, 312);
        assert!((in_mp4.gain - 0.501).abs() < 1e-3);
        for bad in
            [head_of(3, 0, &[0]), head_of(4, 0, &[2, 4, 0, 0]), head_of(3, 0, &[1, 2, 1, 0, 2]), b"Opus".to_vec()]
        {
            assert_eq!(Head::read(&bad), None);
        }
        let whole = head_of(2, 0, &[0]);
        assert!((0..whole.len()).all(|cut| Head::read(&whole[..cut]).is_none()));
    }

    /// RFC 6716, table 2.
    #[test]
    fn packets_say_how_long_they_are() {
        for (packet, frames) in [
            (&[0x00][..], Some(480)),
            (&[0x5c], Some(2880)),
            (&[0x78], Some(960)),
            (&[0x80], Some(120)),
            (&[0xfd], Some(1920)),
            (&[0x5b, 2], Some(5760)),
            (&[0x5b, 3], None),
            (&[0xfb, 0], None),
            (&[0xff], None),
            (&[], None),
        ] {
            assert_eq!(frames_of(packet), frames, "{packet:?}");
        }
    }
}
