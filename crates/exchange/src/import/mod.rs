//! Bringing drills in: MusicXML 3.1 and 4.0 (.xml, .musicxml, .mxl), Standard MIDI Files, plain tablature text, JAMS
//! note annotations, drill files. What cannot be carried over is listed, never dropped in silence.
//!
//! All input is read under limits of our own: [`MAX_INPUT`] bytes of file, as many of inflated XML, a bounded number
//! of elements and notes.

mod fingering;
mod imported;
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

pub use imported::{Imported, MAX_IMPORTED, MAX_INPUT, Options};

use imported::text_of;
use std::path::Path;
use takegauge_drill::{Drill, DrillError, Place, read_bounded};

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
    let place = Place { file: file.to_owned(), line: 1, column: 1 };
    DrillError::Syntax { place, message: format!("does not start as a .{ending} file does. Is it the right file?") }
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

#[cfg(test)]
mod tests;
