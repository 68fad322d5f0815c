//! Taking drills out: MusicXML 4.0, Standard MIDI File, plain tablature text, drill file.
//! What a format cannot carry is listed, never dropped in silence.

mod midi;
mod musicxml;
mod pieces;
mod tab;

use crate::{Drill, Picking, Step};

/// A format that drills go out in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Format {
    /// MusicXML 4.0, one part on a tablature staff.
    MusicXml,
    /// Standard MIDI File, format 1, with a click track and markers.
    Midi,
    /// Tablature as plain text with stroke signs.
    Tab,
    /// A drill file.
    Drill,
}

impl Format {
    /// The format that a file name's ending stands for.
    pub fn of_name(name: &str) -> Option<Self> {
        let (_, ending) = name.rsplit_once('.')?;
        match ending.to_lowercase().as_str() {
            "xml" | "musicxml" => Some(Self::MusicXml),
            "mid" | "midi" | "smf" => Some(Self::Midi),
            "txt" | "tab" => Some(Self::Tab),
            "toml" => Some(Self::Drill),
            _ => None,
        }
    }
}

/// A drill in another format.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exported {
    /// The whole file.
    pub bytes: Vec<u8>,
    /// What the format does not carry, one sentence each.
    pub losses: Vec<String>,
}

/// Strokes written on single notes hold in every repeat; formats that carry every note's stroke do not tell which.
fn stroke_losses(drill: &Drill, losses: &mut Vec<String>) {
    let written = drill.line.iter().any(|s| matches!(s, Step::Note(n) if n.written_stroke.is_some()));
    if written && drill.picking != Picking::Written {
        losses.push("Which strokes were written and which follow from the picking is not carried.".to_owned());
    }
}

/// Writes a drill in a format.
pub fn write(drill: &Drill, format: Format) -> Exported {
    match format {
        Format::MusicXml => musicxml::write(drill),
        Format::Midi => midi::write(drill),
        Format::Tab => tab::write(drill),
        Format::Drill => Exported { bytes: drill.to_toml().into_bytes(), losses: Vec::new() },
    }
}
