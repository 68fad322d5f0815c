//! Plain PCM bytes to samples. Uncompressed takes are by far the most common, and Symphonia's decoder reads them a
//! sample at a time through its stream layer; the packets it cuts are already the samples' own bytes.

use symphonia::core::codecs::audio::AudioCodecParameters;
use symphonia::core::codecs::audio::well_known::{
    CODEC_ID_PCM_F32LE, CODEC_ID_PCM_S16BE, CODEC_ID_PCM_S16LE, CODEC_ID_PCM_S24BE, CODEC_ID_PCM_S24LE,
};

/// A layout that is read here; every other one goes through Symphonia's decoder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Layout {
    S16Le,
    S16Be,
    S24Le,
    S24Be,
    F32Le,
}

impl Layout {
    /// The layout of a track, where it is one of these and fills its container's bits.
    pub(crate) fn of(params: &AudioCodecParameters) -> Option<Self> {
        let (layout, bits) = match params.codec {
            CODEC_ID_PCM_S16LE => (Self::S16Le, 16),
            CODEC_ID_PCM_S16BE => (Self::S16Be, 16),
            CODEC_ID_PCM_S24LE => (Self::S24Le, 24),
            CODEC_ID_PCM_S24BE => (Self::S24Be, 24),
            CODEC_ID_PCM_F32LE => (Self::F32Le, 32),
            _ => return None,
        };
        let full = |stated: Option<u32>| stated.is_none_or(|b| b == bits);
        (full(params.bits_per_coded_sample) && full(params.bits_per_sample)).then_some(layout)
    }

    fn width(self) -> usize {
        match self {
            Self::S16Le | Self::S16Be => 2,
            Self::S24Le | Self::S24Be => 3,
            Self::F32Le => 4,
        }
    }

    /// Interleaved bytes to one plane a channel, full scale +-1. A last frame that is not whole is left out.
    pub(crate) fn unpack(self, bytes: &[u8], planes: &mut [Vec<f32>]) {
        let (width, channels) = (self.width(), planes.len());
        if channels == 0 {
            return;
        }
        let stride = width * channels;
        let whole = bytes.len() / stride * stride;
        for (c, plane) in planes.iter_mut().enumerate() {
            plane.clear();
            let frames = bytes[..whole].chunks_exact(stride);
            match self {
                Self::S16Le => plane.extend(frames.map(|f| s16(i16::from_le_bytes(at(f, c))))),
                Self::S16Be => plane.extend(frames.map(|f| s16(i16::from_be_bytes(at(f, c))))),
                Self::S24Le => plane.extend(frames.map(|f| {
                    let [a, b, d] = at(f, c);
                    s24(i32::from_le_bytes([0, a, b, d]))
                })),
                Self::S24Be => plane.extend(frames.map(|f| {
                    let [a, b, d] = at(f, c);
                    s24(i32::from_be_bytes([a, b, d, 0]))
                })),
                Self::F32Le => plane.extend(frames.map(|f| f32::from_le_bytes(at(f, c)))),
            }
        }
    }
}

/// The bytes of channel `c` in a frame; zeros where the frame is too short, which `chunks_exact` rules out.
fn at<const W: usize>(frame: &[u8], c: usize) -> [u8; W] {
    frame.get(c * W..c * W + W).and_then(|b| b.try_into().ok()).unwrap_or([0; W])
}

fn s16(v: i16) -> f32 {
    f32::from(v) * (1.0 / 32_768.0)
}

/// From 24 bits in the upper part of 32: exact, because 24 bits fit an f32's significand.
fn s24(v: i32) -> f32 {
    (v >> 8) as f32 * (1.0 / 8_388_608.0)
}
