//! What a recording may ask for, in one place. Each limit lies far beyond honest use; what goes past one is a damaged or
//! a hostile file, or a recorder that was left running, and is told as such rather than paid for.

use crate::AudioError;
use std::path::Path;
use symphonia::core::codecs::audio::AudioCodecParameters;

/// Longest take, hours.
pub const LONGEST_HOURS: u64 = 12;
/// Channels of a file. The largest interfaces record 64 at a time.
pub const MOST_CHANNELS: u16 = 64;
/// Longest block that [`crate::TakeReader::next_block`] hands out, in samples.
pub const MAX_BLOCK: usize = 1 << 14;
/// Frames of a packet: FLAC's largest block (RFC 9639, section 9.1.1); the other coders' are shorter.
pub(crate) const MOST_FRAMES_A_PACKET: u64 = 65_536;
/// Bytes of a packet: the longest of the most channels of the widest samples.
pub(crate) const MOST_PACKET_BYTES: usize = 64 << 20;
/// Packets of a table that is read whole: 12 hours of 480 frames at 44.1 kHz.
pub(crate) const MOST_PACKETS: u64 = 4_000_000;
/// Packets in a row that give no frame.
pub(crate) const MOST_EMPTY_PACKETS: u32 = 10_000;

/// Frames that any file may hold, as minutes: silence packs to nearly nothing.
const FREE_MINUTES: u64 = 20;
/// Frames a byte of file beyond that. FLAC packs 4,608 frames of silence into 12 bytes, Vorbis 1,024 into 2.
const FRAMES_A_BYTE: u64 = 512;

/// What is left of the frames that a file of its size may unpack to.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Budget {
    left: u64,
    longest: bool,
}

impl Budget {
    /// Of a file of `bytes` at `rate_hz`.
    pub(crate) fn new(bytes: u64, rate_hz: u32) -> Self {
        let rate = u64::from(rate_hz);
        let longest = LONGEST_HOURS * 3600 * rate;
        let packed = (FREE_MINUTES * 60 * rate).saturating_add(bytes.saturating_mul(FRAMES_A_BYTE));
        Self { left: longest.min(packed), longest: longest <= packed }
    }

    /// Takes frames off it.
    ///
    /// # Errors
    /// [`AudioError::TooMuch`] once they are spent.
    pub(crate) fn spend(&mut self, frames: u64, path: &Path) -> Result<(), AudioError> {
        match self.left.checked_sub(frames) {
            Some(left) => {
                self.left = left;
                Ok(())
            }
            None if self.longest => Err(too_much(path, format!("more than {LONGEST_HOURS} hours of sound"))),
            None => {
                Err(too_much(path, format!("more than {FRAMES_A_BYTE} frames a byte, for longer than any silence")))
            }
        }
    }
}

/// Refuses a track that claims more channels or longer packets than there are, before anything is made to measure.
///
/// # Errors
/// [`AudioError::TooMuch`].
pub(crate) fn track(path: &Path, params: &AudioCodecParameters) -> Result<(), AudioError> {
    channels(path, params.channels.as_ref().map_or(0, |c| c.count()))?;
    let frames = params.max_frames_per_packet.into_iter().chain(params.frames_per_block).max().unwrap_or(0);
    if frames > MOST_FRAMES_A_PACKET {
        return Err(too_much(path, format!("{frames} frames a packet (at most {MOST_FRAMES_A_PACKET} are read)")));
    }
    Ok(())
}

/// # Errors
/// [`AudioError::TooMuch`].
pub(crate) fn channels(path: &Path, channels: usize) -> Result<(), AudioError> {
    if channels > usize::from(MOST_CHANNELS) {
        return Err(too_much(path, format!("{channels} channels (at most {MOST_CHANNELS} are read)")));
    }
    Ok(())
}

pub(crate) fn too_much(path: &Path, what: String) -> AudioError {
    AudioError::TooMuch { path: path.to_path_buf(), what }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn honest_silence_passes_and_a_bomb_does_not() {
        let spend = |bytes: u64, seconds: u64| Budget::new(bytes, 44_100).spend(seconds * 44_100, Path::new("f"));
        // A minute of silence in FLAC: 575 blocks of 12 bytes and the header.
        assert!(spend(575 * 12 + 86, 60).is_ok());
        assert!(spend(11 * 3600 * 10 * 12, 11 * 3600).is_ok());
        assert!(spend(86_000, 13 * 3600).unwrap_err().to_string().contains("a byte"));
        assert!(spend(1 << 40, 13 * 3600).unwrap_err().to_string().contains("12 hours"));
    }
}
