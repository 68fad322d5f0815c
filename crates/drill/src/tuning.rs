//! Tunings: by the trade's plain names or by pitches, low string first.

use crate::{Drill, Tuning};
use takegauge_units::MidiKey;

/// Named tunings, the open strings' sounding pitches in file order.
/// Common practice in the trade, no single source.
pub const NAMED_TUNINGS: [(&str, &str); 16] = [
    ("standard", "E2 A2 D3 G3 B3 E4"),
    ("half step down", "Eb2 Ab2 Db3 Gb3 Bb3 Eb4"),
    ("whole step down", "D2 G2 C3 F3 A3 D4"),
    ("drop d", "D2 A2 D3 G3 B3 E4"),
    ("drop c", "C2 G2 C3 F3 A3 D4"),
    ("double drop d", "D2 A2 D3 G3 B3 D4"),
    ("dadgad", "D2 A2 D3 G3 A3 D4"),
    ("open d", "D2 A2 D3 F#3 A3 D4"),
    ("open g", "D2 G2 D3 G3 B3 D4"),
    ("all fourths", "E2 A2 D3 G3 C4 F4"),
    ("7 strings", "B1 E2 A2 D3 G3 B3 E4"),
    ("8 strings", "F#1 B1 E2 A2 D3 G3 B3 E4"),
    ("bass", "E1 A1 D2 G2"),
    ("5-string bass", "B0 E1 A1 D2 G2"),
    ("mandolin", "G3 D4 A4 E5"),
    ("banjo", "G4 D3 G3 B3 D4"),
];

impl Tuning {
    /// Reads a tuning by name ("standard", "drop D", ...) or by 4 to 9 pitches, low string first.
    ///
    /// # Errors
    /// What is wrong with it: the first pitch that could not be read, or the number of strings.
    pub fn parse(text: &str) -> Result<Self, String> {
        let wanted = text.trim().to_lowercase();
        let named = NAMED_TUNINGS.iter().find(|(name, _)| *name == wanted);
        let pitches = named.map_or(text, |(_, pitches)| pitches);
        let mut open = Vec::new();
        for name in pitches.split_whitespace() {
            match MidiKey::parse(name) {
                Some(key) if open.len() < 9 => open.push(key),
                Some(_) => return Err("more than 9 strings".to_owned()),
                None => return Err(format!("\"{name}\", which is no pitch")),
            }
        }
        if open.len() < 4 {
            return Err(format!("{} strings", open.len()));
        }
        Ok(Self { open })
    }

    /// Guitar standard tuning, E2 A2 D3 G3 B3 E4.
    pub fn standard() -> Self {
        Self { open: [40, 45, 50, 55, 59, 64].map(MidiKey).to_vec() }
    }

    /// How many strings there are.
    pub fn strings(&self) -> u8 {
        u8::try_from(self.open.len()).unwrap_or(u8::MAX)
    }

    /// The pitches as a drill file has them: "E2 A2 D3 G3 B3 E4".
    pub fn pitches(&self) -> String {
        self.open.iter().map(|k| k.name()).collect::<Vec<_>>().join(" ")
    }

    /// Every string with its number, as outputs echo it: "6=E2 5=A2 4=D3 3=G3 2=B3 1=E4".
    pub fn echo(&self) -> String {
        let numbered = self.open.iter().zip((1..=self.strings()).rev());
        numbered.map(|(key, number)| format!("{number}={}", key.name())).collect::<Vec<_>>().join(" ")
    }

    /// What a tuning may be, for error texts.
    pub fn allowed() -> String {
        let names: Vec<_> = NAMED_TUNINGS.iter().map(|(name, _)| *name).collect();
        format!("4 to 9 pitches, low string first, as \"E2 A2 D3 G3 B3 E4\", or one of: {}", names.join(", "))
    }
}

impl Drill {
    /// The pitch that sounds at a place on the neck, capo counted; `None` where there is no such string or the
    /// pitch lies beyond MIDI key 127.
    pub fn key_at(&self, string: u8, fret: u8) -> Option<MidiKey> {
        let open = self.tuning.string(string)?.0;
        let key = open.checked_add(self.capo)?.checked_add(fret)?;
        (key <= 127).then_some(MidiKey(key))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_pitches_are_the_same_tuning() {
        assert_eq!(Tuning::parse("standard").unwrap(), Tuning::standard());
        assert_eq!(Tuning::parse("Drop D").unwrap().pitches(), "D2 A2 D3 G3 B3 E4");
        for (name, _) in NAMED_TUNINGS {
            let t = Tuning::parse(name).unwrap();
            assert_eq!(Tuning::parse(&t.pitches()).unwrap(), t, "{name}");
        }
    }

    #[test]
    fn echo_numbers_strings_by_place() {
        assert_eq!(Tuning::standard().echo(), "6=E2 5=A2 4=D3 3=G3 2=B3 1=E4");
        assert_eq!(Tuning::standard().string(6), Some(MidiKey(40)));
        assert_eq!(Tuning::standard().string(7), None);
        assert_eq!(Tuning::standard().string(0), None);
    }

    #[test]
    fn bad_tunings_say_what() {
        assert!(Tuning::parse("E2 A2 D3").unwrap_err().contains("3 strings"));
        assert!(Tuning::parse("E2 A2 D3 Q3").unwrap_err().contains("\"Q3\""));
        assert!(Tuning::parse("E2 E2 E2 E2 E2 E2 E2 E2 E2 E2").unwrap_err().contains("more than 9"));
    }
}
