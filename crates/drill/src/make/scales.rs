//! Scales and chords by name, as the pitch classes they have.

use takegauge_units::MidiKey;

/// Names and semitones above the root (the trade's plain names; common knowledge, no single source).
pub const SCALES: [(&str, &[u8]); 24] = [
    ("major", &[0, 2, 4, 5, 7, 9, 11]),
    ("minor", &[0, 2, 3, 5, 7, 8, 10]),
    ("harmonic minor", &[0, 2, 3, 5, 7, 8, 11]),
    ("melodic minor", &[0, 2, 3, 5, 7, 9, 11]),
    ("dorian", &[0, 2, 3, 5, 7, 9, 10]),
    ("phrygian", &[0, 1, 3, 5, 7, 8, 10]),
    ("lydian", &[0, 2, 4, 6, 7, 9, 11]),
    ("mixolydian", &[0, 2, 4, 5, 7, 9, 10]),
    ("locrian", &[0, 1, 3, 5, 6, 8, 10]),
    ("major pentatonic", &[0, 2, 4, 7, 9]),
    ("minor pentatonic", &[0, 3, 5, 7, 10]),
    ("blues", &[0, 3, 5, 6, 7, 10]),
    ("whole tone", &[0, 2, 4, 6, 8, 10]),
    ("chromatic", &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]),
    ("major chord", &[0, 4, 7]),
    ("minor chord", &[0, 3, 7]),
    ("diminished chord", &[0, 3, 6]),
    ("augmented chord", &[0, 4, 8]),
    ("sus4 chord", &[0, 5, 7]),
    ("7 chord", &[0, 4, 7, 10]),
    ("major 7 chord", &[0, 4, 7, 11]),
    ("minor 7 chord", &[0, 3, 7, 10]),
    ("half-diminished chord", &[0, 3, 6, 10]),
    ("diminished 7 chord", &[0, 3, 6, 9]),
];

/// A root and what is built on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scale {
    name: String,
    /// Which of the twelve pitch classes belong to it, from C.
    classes: [bool; 12],
}

impl Scale {
    /// Reads "A minor", "F# major pentatonic", "Bb 7 chord"; `None` for anything else.
    pub fn parse(text: &str) -> Option<Self> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let (root, rest) = words.split_first()?;
        let root = MidiKey::parse(&format!("{root}4"))?.0;
        let wanted = rest.join(" ").to_lowercase();
        let (name, steps) = SCALES.iter().find(|s| s.0 == wanted)?;
        let mut classes = [false; 12];
        for step in *steps {
            classes[usize::from((root + step) % 12)] = true;
        }
        let letter = words.first()?;
        Some(Self { name: format!("{}{} {name}", letter[..1].to_uppercase(), &letter[1..]), classes })
    }

    /// What [`Scale::parse`] reads.
    pub fn known() -> String {
        let names: Vec<&str> = SCALES.iter().map(|s| s.0).collect();
        format!("a note and one of: {}", names.join(", "))
    }

    /// As it was named.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether a pitch belongs to it.
    pub fn has(&self, key: MidiKey) -> bool {
        self.classes[usize::from(key.0 % 12)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_by_name() {
        let a = Scale::parse("a minor pentatonic").unwrap();
        assert_eq!(a.name(), "A minor pentatonic");
        let has: Vec<u8> = (60..72).filter(|k| a.has(MidiKey(*k))).collect();
        assert_eq!(has, [60, 62, 64, 67, 69]);
        assert_eq!(Scale::parse("Bb 7 chord").unwrap().name(), "Bb 7 chord");
        for bad in ["", "A", "A nothing", "H major", "é major", "A4 major"] {
            assert_eq!(Scale::parse(bad), None, "{bad}");
        }
    }
}
