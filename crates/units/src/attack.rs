//! What the ear hands on: the take it listened to and the attacks it heard.

use crate::{Decibels, Instant, MidiKey, Millis, SampleRate, Seconds};
use serde::{Deserialize, Serialize};

/// Which file was read and what is in it. Paths are as the user gave them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TakeInfo {
    /// The file, as named by the user.
    pub path: String,
    /// Samples a second.
    pub sample_rate_hz: SampleRate,
    /// Channels in the file (the analysis itself is mono).
    pub channels: u16,
    /// Length of what was decoded.
    pub duration_s: Seconds,
}

/// The lowest MIDI key that [`PitchEvidence`] speaks of (C1, below a five-string bass's lowest fretted notes).
pub const FIRST_KEY: u8 = 24;
/// How many keys it speaks of, one a semitone upward from [`FIRST_KEY`].
pub const KEYS: usize = 76;

/// How well each pitch explains the sound that an attack brought, one value a semitone, 0 (not at all) to 255.
/// Differences are what counts: it is a salience on a scale of its own, not a probability.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PitchEvidence(pub [u8; KEYS]);

impl PitchEvidence {
    /// No evidence at all: every pitch as good as any other.
    pub const NONE: Self = Self([0; KEYS]);

    /// The value for one key; `None` outside the range.
    pub fn of(&self, key: MidiKey) -> Option<u8> {
        self.0.get(usize::from(key.0.checked_sub(FIRST_KEY)?)).copied()
    }

    /// The best key, the lowest of equals; `None` where there is no evidence.
    pub fn best(&self) -> Option<MidiKey> {
        let mut best: Option<(usize, u8)> = None;
        for (i, v) in self.0.iter().enumerate() {
            if *v > best.map_or(0, |b| b.1) {
                best = Some((i, *v));
            }
        }
        best.map(|(i, _)| MidiKey(FIRST_KEY + i as u8))
    }
}

/// One attack: the moment the pick lets the string go, heard without any knowledge of the drill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Attack {
    /// When, in the take's own samples.
    pub at: Instant,
    /// One standard deviation of `at`.
    pub uncertainty: Millis,
    /// How far it stands out of what sounded before, a pure number >= 0; 1 is where the blind threshold lies.
    pub strength: f32,
    /// Peak level just after it, dBFS.
    pub level: Decibels,
    /// What pitch it brought.
    pub pitch: PitchEvidence,
}

const _: () = assert!(size_of::<Attack>() <= 128);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn evidence_covers_five_octaves_and_more() {
        let mut e = PitchEvidence::NONE;
        assert_eq!(e.best(), None);
        e.0[45 - 24] = 9;
        assert_eq!(e.best(), Some(MidiKey(45)));
        assert_eq!(e.of(MidiKey(45)), Some(9));
        assert_eq!(e.of(MidiKey(23)), None);
        assert_eq!(e.of(MidiKey(100)), None);
    }
}
