//! Reading drill files, version 1: TOML whose every fault is told with its line and column.

use crate::line::{Line, quoted, read_line};
use crate::{AfterGap, Drill, DrillError, Picking, Place, Step, Stroke, Tuning};
use std::ops::{Range, RangeInclusive};
use std::path::Path;
use takegauge_units::{Bpm, Hertz};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Every key of a drill file, in the order in which files are written.
pub const KEYS: [&str; 17] = [
    "version",
    "name",
    "note",
    "tempo_bpm",
    "steps_per_beat",
    "beats_per_bar",
    "beat_unit",
    "pickup_steps",
    "repeats",
    "tuning",
    "capo",
    "a4_hz",
    "picking",
    "first_stroke",
    "after_gap",
    "swing",
    "line",
];
/// The most notes over all repeats.
pub const MAX_NOTES: usize = 200_000;
/// The largest drill file, in bytes.
pub const MAX_BYTES: u64 = 1_000_000;

impl Drill {
    /// Reads a drill file from disk.
    ///
    /// # Errors
    /// Where it cannot be read, and everything [`Drill::parse`] refuses.
    pub fn read(path: impl AsRef<Path>) -> Result<Self, DrillError> {
        let path = path.as_ref();
        let bytes = read_bounded(path, MAX_BYTES)?;
        let file = path.display().to_string();
        let text = String::from_utf8(bytes).map_err(|_| DrillError::NotText { file: file.clone() })?;
        Self::parse(&text, &file)
    }

    /// Reads the text of a drill file; `file_name` is only for error texts.
    ///
    /// # Errors
    /// The first fault: its line and column, what was read, what is allowed.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, DrillError> {
        let bytes = text.len() as u64;
        if bytes > MAX_BYTES {
            return Err(DrillError::TooLarge { file: file_name.to_owned(), bytes, limit: MAX_BYTES });
        }
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let table = DeTable::parse(text).map_err(|e| DrillError::Syntax {
            place: Place::of(file_name, text, e.span().map_or(0, |s| s.start)),
            message: e.message().to_owned(),
        })?;
        Reader { file: file_name, text, table: table.get_ref() }.drill()
    }
}

/// Reads a whole file, or says that it is too large.
pub(crate) fn read_bounded(path: &Path, limit: u64) -> Result<Vec<u8>, DrillError> {
    use std::io::Read as _;
    let file = path.display().to_string();
    let unreadable = |source| DrillError::Unreadable { file: file.clone(), source };
    let open = std::fs::File::open(path).map_err(unreadable)?;
    let mut bytes = Vec::new();
    open.take(limit + 1).read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() as u64 > limit {
        let bytes = std::fs::metadata(path).map_or(bytes.len() as u64, |m| m.len());
        return Err(DrillError::TooLarge { file, bytes, limit });
    }
    Ok(bytes)
}

struct Reader<'a> {
    file: &'a str,
    text: &'a str,
    table: &'a DeTable<'a>,
}

type Value<'a> = Spanned<DeValue<'a>>;

impl<'a> Reader<'a> {
    fn drill(&self) -> Result<Drill, DrillError> {
        self.known_keys()?;
        if let Some(value) = self.get("version") {
            self.whole(value, "version", 1..=1)?;
        }
        let steps_per_beat = self.needed("steps_per_beat", "steps_per_beat = 4")?;
        let steps_per_beat = self.whole(steps_per_beat, "steps_per_beat", 1..=12)? as u8;
        let tuning = self.tuning()?;
        let capo = self.whole_or("capo", 0..=12, 0)? as u8;
        let line_value = self.needed("line", "line = \"6:3 6:5 5:3\"")?;
        let (line, base) = self.line(line_value, tuning.strings())?;
        let drill = Drill {
            name: self.name()?,
            tempo: Bpm(self.number(self.needed("tempo_bpm", "tempo_bpm = 120")?, "tempo_bpm", 20.0..=400.0)?),
            steps_per_beat,
            beats_per_bar: self.whole_or("beats_per_bar", 1..=32, 4)? as u8,
            beat_unit: self.beat_unit()?,
            pickup_steps: self.whole_or("pickup_steps", 0..=383, 0)? as u16,
            repeats: self.whole_or("repeats", 1..=1000, 1)? as u32,
            tuning,
            picking: self.choice("picking", &PICKING, Picking::Alternate)?,
            first_stroke: self.choice("first_stroke", &STROKES, Stroke::Down)?,
            after_gap: self.choice("after_gap", &AFTER_GAP, AfterGap::Next)?,
            swing: self.swing(steps_per_beat)?,
            a4: Hertz(self.number_or("a4_hz", 380.0..=500.0, 440.0)?),
            capo,
            note: self.get("note").map_or(Ok(String::new()), |v| self.string(v, "note"))?,
            line: line.steps,
            bars: line.bars,
            divisions: line.divisions,
        };
        self.check_pickup(&drill)?;
        self.check_notes(&drill, &line.offsets, base)?;
        Ok(drill)
    }

    fn get(&self, key: &str) -> Option<&'a Value<'a>> {
        self.table.get(key)
    }

    fn needed(&self, key: &'static str, example: &'static str) -> Result<&'a Value<'a>, DrillError> {
        self.get(key).ok_or_else(|| DrillError::MissingKey { file: self.file.to_owned(), key, example })
    }

    fn known_keys(&self) -> Result<(), DrillError> {
        let unknown = self.table.keys().filter(|k| !KEYS.contains(&k.get_ref().as_ref()));
        match unknown.min_by_key(|k| k.span().start) {
            None => Ok(()),
            Some(key) => Err(DrillError::UnknownKey {
                place: self.place(key.span().start),
                key: key.get_ref().chars().take(60).collect(),
                known: KEYS.join(", "),
            }),
        }
    }

    fn place(&self, offset: usize) -> Place {
        Place::of(self.file, self.text, offset)
    }

    fn fault<T>(&self, offset: usize, read: String, allowed: impl Into<String>) -> Result<T, DrillError> {
        Err(DrillError::NotAllowed { place: self.place(offset), read, allowed: allowed.into() })
    }

    fn source(&self, span: Range<usize>) -> &'a str {
        self.text.get(span).unwrap_or("")
    }

    fn not(&self, value: &Value<'_>, key: &str, allowed: impl Into<String>) -> DrillError {
        let read = format!("{key} = {}", self.source(value.span()).chars().take(60).collect::<String>());
        DrillError::NotAllowed { place: self.place(value.span().start), read, allowed: allowed.into() }
    }

    fn whole(&self, value: &Value<'_>, key: &str, range: RangeInclusive<i64>) -> Result<i64, DrillError> {
        let read = value.get_ref().as_integer().and_then(|i| i64::from_str_radix(i.as_str(), i.radix()).ok());
        read.filter(|n| range.contains(n)).ok_or_else(|| {
            let allowed = if range.start() == range.end() {
                format!("{} only", range.start())
            } else {
                format!("a whole number from {} to {}", range.start(), range.end())
            };
            self.not(value, key, allowed)
        })
    }

    fn whole_or(&self, key: &str, range: RangeInclusive<i64>, default: i64) -> Result<i64, DrillError> {
        self.get(key).map_or(Ok(default), |v| self.whole(v, key, range))
    }

    fn number(&self, value: &Value<'_>, key: &str, range: RangeInclusive<f64>) -> Result<f64, DrillError> {
        let read = match value.get_ref() {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|n| n as f64),
            DeValue::Float(f) => f.as_str().parse().ok(),
            _ => None,
        };
        let allowed = || format!("a number from {} to {}", range.start(), range.end());
        read.filter(|x| range.contains(x)).ok_or_else(|| self.not(value, key, allowed()))
    }

    fn number_or(&self, key: &str, range: RangeInclusive<f64>, default: f64) -> Result<f64, DrillError> {
        self.get(key).map_or(Ok(default), |v| self.number(v, key, range))
    }

    fn string(&self, value: &Value<'_>, key: &str) -> Result<String, DrillError> {
        value.get_ref().as_str().map(str::to_owned).ok_or_else(|| self.not(value, key, "text in quotes"))
    }

    fn name(&self) -> Result<String, DrillError> {
        let value = self.needed("name", "name = \"Three per string\"")?;
        let name = self.string(value, "name")?;
        if name.trim().is_empty() || name.chars().count() > 200 || name.chars().any(char::is_control) {
            return Err(self.not(value, "name", "1 to 200 characters on one line"));
        }
        Ok(name)
    }

    fn tuning(&self) -> Result<Tuning, DrillError> {
        let value = self.needed("tuning", "tuning = \"E2 A2 D3 G3 B3 E4\"")?;
        let text = self.string(value, "tuning")?;
        Tuning::parse(&text)
            .or_else(|why| self.fault(value.span().start, format!("tuning with {why}"), Tuning::allowed()))
    }

    fn beat_unit(&self) -> Result<u8, DrillError> {
        let Some(value) = self.get("beat_unit") else { return Ok(4) };
        let unit = self.whole(value, "beat_unit", 1..=16)?;
        match unit {
            1 | 2 | 4 | 8 | 16 => Ok(unit as u8),
            _ => Err(self.not(value, "beat_unit", "1, 2, 4 (quarter note), 8 (eighth) or 16")),
        }
    }

    fn choice<T: Copy>(&self, key: &str, choices: &[(&str, T)], default: T) -> Result<T, DrillError> {
        let Some(value) = self.get(key) else { return Ok(default) };
        let read = value.get_ref().as_str();
        choices.iter().find(|(name, _)| Some(*name) == read).map(|(_, v)| *v).ok_or_else(|| {
            let names: Vec<_> = choices.iter().map(|(name, _)| format!("\"{name}\"")).collect();
            self.not(value, key, names.join(", "))
        })
    }

    fn swing(&self, steps_per_beat: u8) -> Result<f64, DrillError> {
        let swing = self.number_or("swing", 20.0..=80.0, 50.0)?;
        match self.get("swing") {
            Some(value) if swing != 50.0 && steps_per_beat % 2 == 1 => {
                Err(self.not(value, "swing", "only 50 where steps_per_beat is odd: steps do not pair off in a beat"))
            }
            _ => Ok(swing),
        }
    }

    /// The line and the byte of the file where its text starts. A text with escapes has no bytes of its own in the
    /// file, so its faults are all told at the value's start (`None`).
    fn line(&self, value: &Value<'_>, strings: u8) -> Result<(Line, Option<usize>), DrillError> {
        let Some(decoded) = value.get_ref().as_str() else {
            return Err(self.not(value, "line", "text in quotes: string:fret notes, such as \"6:3 6:5 5:3\""));
        };
        let raw = self.source(value.span());
        let quote = ["\"\"\"", "'''", "\"", "'"].into_iter().find(|q| raw.starts_with(q)).unwrap_or("");
        let body = raw.get(quote.len()..raw.len().saturating_sub(quote.len())).unwrap_or("");
        let plain = !raw.contains('\\');
        let (text, base) = if plain { (body, Some(value.span().start + quote.len())) } else { (decoded, None) };
        read_line(text, strings).map(|line| (line, base)).or_else(|f| {
            let offset = base.map_or(value.span().start, |b| b + f.offset);
            self.fault(offset, f.read, f.allowed)
        })
    }

    fn check_pickup(&self, drill: &Drill) -> Result<(), DrillError> {
        match self.get("pickup_steps") {
            Some(value) if usize::from(drill.pickup_steps) >= drill.line.len().max(1) => {
                Err(self.not(value, "pickup_steps", "fewer steps than the line has"))
            }
            _ => Ok(()),
        }
    }

    fn check_notes(&self, drill: &Drill, offsets: &[usize], base: Option<usize>) -> Result<(), DrillError> {
        let line_start = self.get("line").map_or(0, |v| v.span().start);
        let mut notes = 0usize;
        for (step, offset) in drill.line.iter().zip(offsets) {
            let Step::Note(note) = step else { continue };
            let at = base.map_or(line_start, |b| b + offset);
            notes += 1;
            if note.fingered.iter().any(|f| drill.key_at(f.string, f.fret).is_none()) {
                let allowed = "pitches up to MIDI key 127 (G9), capo counted";
                return self.fault(at, quoted(&crate::line::write_step(step)), allowed);
            }
            let picked = note.sounding == crate::Sounding::Picked;
            if drill.picking == Picking::Written && picked && note.written_stroke.is_none() {
                let read = format!("{} without a stroke", quoted(&crate::line::write_step(step)));
                return self.fault(at, read, "d or u on every picked note where picking = \"written\"");
            }
        }
        let all = notes.saturating_mul(drill.repeats as usize);
        match all {
            0 => Err(DrillError::NoNotes { file: self.file.to_owned() }),
            _ if all > MAX_NOTES => {
                Err(DrillError::TooManyNotes { file: self.file.to_owned(), notes: all, limit: MAX_NOTES })
            }
            _ => Ok(()),
        }
    }
}

pub(crate) const PICKING: [(&str, Picking); 4] = [
    ("alternate", Picking::Alternate),
    ("economy", Picking::Economy),
    ("down", Picking::Down),
    ("written", Picking::Written),
];
pub(crate) const STROKES: [(&str, Stroke); 2] = [("down", Stroke::Down), ("up", Stroke::Up)];
pub(crate) const AFTER_GAP: [(&str, AfterGap); 3] =
    [("next", AfterGap::Next), ("hand", AfterGap::Hand), ("restart", AfterGap::Restart)];

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "name = \"t\"\ntempo_bpm = 120\nsteps_per_beat = 4\ntuning = \"standard\"\n";

    fn fault(text: &str) -> String {
        Drill::parse(text, "t.toml").unwrap_err().to_string()
    }

    #[test]
    fn defaults() {
        let d = Drill::parse(&format!("{HEAD}line = \"6:3\""), "t.toml").unwrap();
        assert_eq!((d.repeats, d.beats_per_bar, d.swing, d.a4.0, d.capo), (1, 4, 50.0, 440.0, 0));
        assert_eq!((d.picking, d.first_stroke, d.after_gap), (Picking::Alternate, Stroke::Down, AfterGap::Next));
    }

    #[test]
    fn faults_in_the_line_point_at_the_spot() {
        let e = fault(&format!("{HEAD}line = \"\"\"\n6:3 6:5\n5:3 7:1 5:7\n\"\"\""));
        assert!(e.starts_with("t.toml, line 7, column 5: read string 7 in \"7:1\"; allowed: strings 1 to 6"), "{e}");
        let e = fault(&format!("{HEAD}line = \"6:3 6:40\""));
        assert!(e.starts_with("t.toml, line 5, column 15: read fret 40"), "{e}");
        // With escapes the value's start is told.
        let e = fault(&format!("{HEAD}line = \"6:3\\n6:40\""));
        assert!(e.starts_with("t.toml, line 5, column 8: read fret 40"), "{e}");
    }

    #[test]
    fn unknown_keys_name_the_known() {
        let e = fault(&format!("{HEAD}tempo = 3\nline = \"6:3\""));
        assert!(e.starts_with("t.toml, line 5, column 1: unknown key \"tempo\". Known keys: version, name"), "{e}");
    }

    #[test]
    fn values_out_of_range_say_the_limit() {
        let line = "line = \"6:3\"";
        for (more, expect) in [
            ("repeats = 10000", "read repeats = 10000; allowed: a whole number from 1 to 1000"),
            ("repeats = 1.5", "read repeats = 1.5"),
            ("swing = 95", "from 20 to 80"),
            ("capo = -1", "from 0 to 12"),
            ("version = 2", "allowed: 1 only"),
            ("picking = \"sideways\"", "\"alternate\", \"economy\", \"down\", \"written\""),
            ("picking = 3", "\"alternate\""),
            ("a4_hz = nan", "from 380 to 500"),
            ("beat_unit = 3", "8 (eighth)"),
            ("pickup_steps = 1", "fewer steps than the line has"),
            ("repeats = 99999999999999999999999", "from 1 to 1000"),
        ] {
            let e = fault(&format!("{HEAD}{more}\n{line}"));
            assert!(e.contains(expect) && e.contains("line 5"), "{more}: {e}");
        }
        let e = fault("name = \"t\"\ntempo_bpm = -10\nsteps_per_beat = 4\ntuning = \"standard\"\nline = \"6:3\"");
        assert!(e.contains("line 2, column 13: read tempo_bpm = -10; allowed: a number from 20 to 400"), "{e}");
        let e = fault(
            "name = \"t\"\ntempo_bpm = 90\nsteps_per_beat = 3\nswing = 60\ntuning = \"standard\"\nline = \"6:3\"",
        );
        assert!(e.contains("line 4") && e.contains("only 50"), "{e}");
    }

    #[test]
    fn missing_keys_no_notes_too_many() {
        assert!(fault("name = \"t\"").contains("the key \"steps_per_beat\" is missing"));
        assert!(fault(&format!("{HEAD}line = \"- -\"")).contains("no notes"));
        assert!(fault("name = ").contains("t.toml, line 1, column"));
        let long = "6:1 ".repeat(300);
        let e = fault(&format!("{HEAD}repeats = 1000\nline = \"{long}\""));
        assert!(e.contains("300000 notes") && e.contains("200000"), "{e}");
    }

    #[test]
    fn written_picking_needs_strokes() {
        let e = fault(&format!("{HEAD}picking = \"written\"\nline = \"6:3d 6:5h 6:7\""));
        assert!(e.contains("column 19: read \"6:7\" without a stroke"), "{e}");
    }

    #[test]
    fn pitches_beyond_midi_are_refused() {
        let e = fault("name='t'\ntempo_bpm=90\nsteps_per_beat=4\ntuning='E2 A2 D3 C9'\nline='1:0 1:12'");
        assert!(e.contains("line 5, column 11") && e.contains("MIDI key 127"), "{e}");
    }

    #[test]
    fn files_come_from_disk_or_say_why() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.toml");
        std::fs::write(&path, format!("{HEAD}line = \"6:3\"")).unwrap();
        assert_eq!(Drill::read(&path).unwrap().name, "t");
        assert!(matches!(Drill::read(dir.path()), Err(DrillError::Unreadable { .. })));
        std::fs::write(&path, [0xffu8, 0xfe]).unwrap();
        assert!(matches!(Drill::read(&path), Err(DrillError::NotText { .. })));
        std::fs::write(&path, vec![b' '; 1_000_001]).unwrap();
        assert!(matches!(Drill::read(&path), Err(DrillError::TooLarge { .. })));
    }
}
