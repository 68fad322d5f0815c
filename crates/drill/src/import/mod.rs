//! Bringing drills in: MusicXML 3.1 and 4.0 (.xml, .musicxml, .mxl), Standard MIDI Files, plain tablature text, JAMS
//! note annotations, drill files. What cannot be carried over is listed, never dropped in silence.
//!
//! All input is read under limits of our own: [`MAX_INPUT`] bytes of file, as many of inflated XML, a bounded number
//! of elements and notes.

mod fingering;
mod jams;
mod midi;
mod musicxml;
mod musicxml_notes;
mod mxl;
mod played;
mod quantise;
mod strokes;
mod tab;
mod tab_columns;
mod tab_rows;
mod xml;

use crate::read::read_bounded;
use crate::{Drill, DrillError, Tuning};
use std::path::Path;
use takegauge_units::Bpm;

/// The largest file that is read, in bytes, and the most that is inflated from a compressed one.
pub const MAX_INPUT: u64 = 8_000_000;
/// The most notes that are brought in.
pub const MAX_IMPORTED: usize = 20_000;

/// What to bring in, and what a file may leave open.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Options {
    /// Which part (MusicXML), track with notes (MIDI) or annotation (JAMS), from 1; `None` for the first with notes.
    pub part: Option<usize>,
    /// First and last bar, from 1, both included; `None` for all.
    pub bars: Option<(usize, usize)>,
    /// Which voice (MusicXML); `None` for the one with the most notes.
    pub voice: Option<String>,
    /// The tuning where the file says none; `None` for standard tuning or what fits the number of strings.
    pub tuning: Option<Tuning>,
    /// The tempo where the file says none.
    pub tempo: Option<Bpm>,
    /// Steps a beat: where the file has no note values (MIDI, JAMS) to which times are moved; in tablature text, that
    /// every note takes one step whatever its spacing.
    pub even: Option<u8>,
}

/// A drill brought in.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The drill.
    pub drill: Drill,
    /// What was not carried over, moved or taken for granted, one sentence each.
    pub losses: Vec<String>,
}

/// Reads a file by its name's ending, else by its content.
///
/// # Errors
/// Where it cannot be read, is too large, or is none of the formats; the place and what was expected.
pub fn read(path: impl AsRef<Path>, options: &Options) -> Result<Imported, DrillError> {
    let path = path.as_ref();
    let bytes = read_bounded(path, MAX_INPUT)?;
    read_bytes(&bytes, &path.display().to_string(), options)
}

/// The same from memory; `file_name` chooses the format and stands in error texts.
///
/// # Errors
/// As [`read`].
pub fn read_bytes(bytes: &[u8], file_name: &str, options: &Options) -> Result<Imported, DrillError> {
    if bytes.len() as u64 > MAX_INPUT {
        let file = file_name.to_owned();
        return Err(DrillError::TooLarge { file, bytes: bytes.len() as u64, limit: MAX_INPUT });
    }
    check(options)?;
    if bytes.starts_with(b"PK\x03\x04") {
        let xml = mxl::score(bytes, file_name)?;
        return musicxml::read(&xml, file_name, options);
    }
    if bytes.starts_with(b"MThd") {
        return midi::read(bytes, file_name, options);
    }
    let text = text_of(bytes, file_name)?;
    let ending = file_name.rsplit_once('.').map_or(String::new(), |e| e.1.to_lowercase());
    let start = text.trim_start();
    match ending.as_str() {
        "xml" | "musicxml" => musicxml::read(&text, file_name, options),
        "jams" | "json" => jams::read(&text, file_name, options),
        "toml" => Ok(Imported { drill: Drill::parse(&text, file_name)?, losses: Vec::new() }),
        "mxl" | "mid" | "midi" | "smf" => Err(unlike(file_name, &ending)),
        _ if start.starts_with('<') => musicxml::read(&text, file_name, options),
        _ if start.starts_with('{') => jams::read(&text, file_name, options),
        _ => tab::read(&text, file_name, options),
    }
}

fn unlike(file: &str, ending: &str) -> DrillError {
    let place = crate::Place { file: file.to_owned(), line: 1, column: 1 };
    DrillError::Syntax { place, message: format!("does not start as a .{ending} file does. Is it the right file?") }
}

fn text_of(bytes: &[u8], file: &str) -> Result<String, DrillError> {
    let utf16 = |to_u16: fn([u8; 2]) -> u16| -> Option<String> {
        let units: Vec<u16> = bytes[2..].chunks_exact(2).map(|c| to_u16([c[0], c[1]])).collect();
        String::from_utf16(&units).ok()
    };
    let text = match bytes {
        [0xff, 0xfe, ..] => utf16(u16::from_le_bytes),
        [0xfe, 0xff, ..] => utf16(u16::from_be_bytes),
        _ => std::str::from_utf8(bytes).ok().map(|t| t.trim_start_matches('\u{feff}').to_owned()),
    };
    text.ok_or_else(|| DrillError::NotText { file: file.to_owned() })
}

fn check(options: &Options) -> Result<(), DrillError> {
    let refuse = |option: &str, read: String, allowed: &str| {
        Err(DrillError::Option { option: option.to_owned(), read, allowed: allowed.to_owned() })
    };
    match options {
        Options { part: Some(0), .. } => refuse("part", "0".to_owned(), "1 or more"),
        Options { bars: Some((a, b)), .. } if *a == 0 || a > b => {
            refuse("bars", format!("{a}-{b}"), "first and last bar, counted from 1, as in 3-6")
        }
        Options { even: Some(n), .. } if !(1..=12).contains(n) => refuse("even", n.to_string(), "1 to 12 steps a beat"),
        Options { tempo: Some(t), .. } if !(20.0..=400.0).contains(&t.0) => {
            refuse("tempo", t.0.to_string(), "20 to 400 quarter notes a minute")
        }
        _ => Ok(()),
    }
}

/// Adds a loss once, however often it occurs.
pub(crate) fn lose(losses: &mut Vec<String>, what: impl Into<String>) {
    let what = what.into();
    if !losses.contains(&what) && losses.len() < 100 {
        losses.push(what);
    }
}

/// A name that a drill file allows.
pub(crate) fn tidy_name(name: &str, file: &str) -> String {
    let clean = |s: &str| -> String {
        let plain: String = s.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        plain.split_whitespace().collect::<Vec<_>>().join(" ").chars().take(200).collect()
    };
    let stem = Path::new(file).file_stem().map_or(String::new(), |s| s.to_string_lossy().into_owned());
    [clean(name), clean(&stem)].into_iter().find(|n| !n.is_empty()).unwrap_or_else(|| "Imported".to_owned())
}

/// Lets a drill through the same door as every drill file, so that all limits hold for it.
pub(crate) fn checked(drill: Drill, file: &str) -> Result<Drill, DrillError> {
    Drill::parse(&drill.to_toml(), file)
}

#[cfg(test)]
mod tests;
