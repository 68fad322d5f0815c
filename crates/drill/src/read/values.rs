//! Values of a TOML table by key, each checked against what is allowed; a fault tells its line and column.

use crate::{DrillError, Place, Worded};
use std::ops::{Range, RangeInclusive};
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
/// A drill file's table, its text and its name, for telling where a fault is.
pub(super) struct Reader<'a> {
    pub(super) file: &'a str,
    pub(super) text: &'a str,
    pub(super) table: &'a DeTable<'a>,
}

/// A value with the bytes of the text that it was read from.
pub(super) type Value<'a> = Spanned<DeValue<'a>>;

impl<'a> Reader<'a> {
    pub(super) fn get(&self, key: &str) -> Option<&'a Value<'a>> {
        self.table.get(key)
    }

    /// The value of a key that has no default.
    pub(super) fn needed(&self, key: &'static str, example: &'static str) -> Result<&'a Value<'a>, DrillError> {
        self.get(key).ok_or_else(|| DrillError::MissingKey { file: self.file.to_owned(), key, example })
    }

    /// Refuses the first key that no drill file has.
    pub(super) fn known_keys(&self) -> Result<(), DrillError> {
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

    /// A fault at a byte of the text.
    pub(super) fn fault<T>(&self, offset: usize, read: String, allowed: impl Into<String>) -> Result<T, DrillError> {
        Err(DrillError::NotAllowed { place: self.place(offset), read, allowed: allowed.into() })
    }

    /// The text as written.
    pub(super) fn source(&self, span: Range<usize>) -> &'a str {
        self.text.get(span).unwrap_or("")
    }

    /// A value that is not allowed.
    pub(super) fn not(&self, value: &Value<'_>, key: &str, allowed: impl Into<String>) -> DrillError {
        let read = format!("{key} = {}", self.source(value.span()).chars().take(60).collect::<String>());
        DrillError::NotAllowed { place: self.place(value.span().start), read, allowed: allowed.into() }
    }

    /// A whole number within a range.
    pub(super) fn whole(&self, value: &Value<'_>, key: &str, range: RangeInclusive<i64>) -> Result<i64, DrillError> {
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

    pub(super) fn whole_or(&self, key: &str, range: RangeInclusive<i64>, default: i64) -> Result<i64, DrillError> {
        self.get(key).map_or(Ok(default), |v| self.whole(v, key, range))
    }

    /// A number within a range.
    pub(super) fn number(&self, value: &Value<'_>, key: &str, range: RangeInclusive<f64>) -> Result<f64, DrillError> {
        let read = match value.get_ref() {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|n| n as f64),
            DeValue::Float(f) => f.as_str().parse().ok(),
            _ => None,
        };
        let allowed = || format!("a number from {} to {}", range.start(), range.end());
        read.filter(|x| range.contains(x)).ok_or_else(|| self.not(value, key, allowed()))
    }

    pub(super) fn number_or(&self, key: &str, range: RangeInclusive<f64>, default: f64) -> Result<f64, DrillError> {
        self.get(key).map_or(Ok(default), |v| self.number(v, key, range))
    }

    pub(super) fn string(&self, value: &Value<'_>, key: &str) -> Result<String, DrillError> {
        value.get_ref().as_str().map(str::to_owned).ok_or_else(|| self.not(value, key, "text in quotes"))
    }

    /// One of the words of a setting.
    pub(super) fn choice<T: Worded>(&self, key: &str, default: T) -> Result<T, DrillError> {
        let Some(value) = self.get(key) else { return Ok(default) };
        value.get_ref().as_str().and_then(T::of_word).ok_or_else(|| {
            let names: Vec<_> = T::WORDS.iter().map(|(word, _)| format!("\"{word}\"")).collect();
            self.not(value, key, names.join(", "))
        })
    }
}
