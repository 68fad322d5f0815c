//! Reading drill files, version 1: TOML whose every fault is told with its line and column.

mod values;

use crate::line::{Line, quoted, read_line};
use crate::{AfterGap, Drill, DrillError, Picking, Place, Step, Stroke, Tuning};
use std::path::Path;
use takegauge_units::{Bpm, Hertz};
use toml::de::DeTable;
pub use values::KEYS;
use values::{Reader, Value};

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

/// Reads a whole file of at most `limit` bytes.
///
/// # Errors
/// Where it cannot be read or is larger.
pub fn read_bounded(path: &Path, limit: u64) -> Result<Vec<u8>, DrillError> {
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

impl Reader<'_> {
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
            picking: self.choice("picking", Picking::Alternate)?,
            first_stroke: self.choice("first_stroke", Stroke::Down)?,
            after_gap: self.choice("after_gap", AfterGap::Next)?,
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

#[cfg(test)]
mod tests;
