//! What to bring in and what came of it; limits and small steps that all formats share.

use std::path::Path;
use takegauge_drill::{Drill, DrillError, Tuning};
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

/// The text of a file in UTF-8 or UTF-16.
pub(super) fn text_of(bytes: &[u8], file: &str) -> Result<String, DrillError> {
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

/// Adds a loss once, however often it occurs.
pub(super) fn lose(losses: &mut Vec<String>, what: impl Into<String>) {
    let what = what.into();
    if !losses.contains(&what) && losses.len() < 100 {
        losses.push(what);
    }
}

/// A name that a drill file allows.
pub(super) fn tidy_name(name: &str, file: &str) -> String {
    let clean = |s: &str| -> String {
        let plain: String = s.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        plain.split_whitespace().collect::<Vec<_>>().join(" ").chars().take(200).collect()
    };
    let stem = Path::new(file).file_stem().map_or(String::new(), |s| s.to_string_lossy().into_owned());
    [clean(name), clean(&stem)].into_iter().find(|n| !n.is_empty()).unwrap_or_else(|| "Imported".to_owned())
}

/// Lets a drill through the same door as every drill file, so that all limits hold for it.
pub(super) fn checked(drill: Drill, file: &str) -> Result<Drill, DrillError> {
    Drill::parse(&drill.to_toml(), file)
}
