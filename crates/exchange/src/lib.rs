//! Drills in and out of other formats: MusicXML, Standard MIDI Files, tablature as plain text, JAMS. What a format
//! cannot carry is listed, never dropped in silence.

pub mod export;
pub mod import;
mod smf;
