//! Tempo, frequency, pitch and level.

use crate::Seconds;
use serde::{Deserialize, Serialize};

/// Tempo in quarter notes a minute.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Bpm(pub f64);

impl Bpm {
    /// How long one beat (quarter note) lasts.
    pub fn beat(self) -> Seconds {
        Seconds(60.0 / self.0)
    }
}

/// A frequency.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Hertz(pub f64);

/// A level in decibels; relative to full scale (dBFS, a full-scale sine's peak is 0) where nothing else is said.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Decibels(pub f64);

impl Decibels {
    /// From an amplitude ratio; 0 gives -200 dB so that no infinity travels on.
    pub fn from_amplitude(ratio: f64) -> Self {
        Self((20.0 * ratio.abs().max(1e-10).log10()).min(400.0))
    }

    /// The amplitude ratio.
    pub fn amplitude(self) -> f64 {
        10f64.powf(self.0 / 20.0)
    }
}

/// A pitch of equal temperament as MIDI numbers it: 60 is C4, 69 is A4 (ISO 16: 440 Hz).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MidiKey(pub u8);

impl MidiKey {
    /// Its frequency where A4 sounds at `a4`: f = a4 * 2^((key - 69) / 12).
    pub fn frequency(self, a4: Hertz) -> Hertz {
        Hertz(a4.0 * 2f64.powf((f64::from(self.0) - 69.0) / 12.0))
    }

    /// Scientific pitch name with sharps: C4, F#2; key 0 is C-1.
    pub fn name(self) -> String {
        const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
        format!("{}{}", NAMES[usize::from(self.0 % 12)], i32::from(self.0 / 12) - 1)
    }

    /// Reads a scientific pitch name: a letter A to G, any number of `#` or `b`, an octave. `None` outside 0..=127.
    pub fn parse(name: &str) -> Option<Self> {
        let mut chars = name.chars();
        let step = match chars.next()?.to_ascii_uppercase() {
            'C' => 0,
            'D' => 2,
            'E' => 4,
            'F' => 5,
            'G' => 7,
            'A' => 9,
            'B' => 11,
            _ => return None,
        };
        let rest = chars.as_str();
        let octave_at = rest.find(|c| c != '#' && c != 'b')?;
        let bend: i32 = rest[..octave_at].chars().map(|c| if c == '#' { 1 } else { -1 }).sum();
        let octave: i32 = rest[octave_at..].parse().ok()?;
        let key = octave.checked_add(1)?.checked_mul(12)?.checked_add(step)?.checked_add(bend)?;
        u8::try_from(key).ok().filter(|k| *k <= 127).map(Self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 16:1975 (A4 = 440 Hz) with equal temperament; values recomputed.
    #[test]
    fn equal_temperament() {
        for (name, hz) in [
            ("E2", 82.4069),
            ("A2", 110.0),
            ("D3", 146.8324),
            ("G3", 195.9977),
            ("B3", 246.9417),
            ("E4", 329.6276),
            ("A4", 440.0),
            ("E6", 1318.5102),
        ] {
            let key = MidiKey::parse(name).unwrap();
            assert_eq!(key.name(), name);
            assert!((key.frequency(Hertz(440.0)).0 - hz).abs() < 5e-5, "{name}");
        }
    }

    #[test]
    fn odd_names() {
        assert_eq!(MidiKey::parse("Bb3"), MidiKey::parse("A#3"));
        assert_eq!(MidiKey::parse("C-1"), Some(MidiKey(0)));
        for bad in ["", "H2", "E", "E2x", "C-2", "G#9", "E99999999999", "é2"] {
            assert_eq!(MidiKey::parse(bad), None, "{bad}");
        }
    }
}
