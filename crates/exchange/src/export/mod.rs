//! Taking drills out: MusicXML 4.0, Standard MIDI File, plain tablature text, drill file.
//! What a format cannot carry is listed, never dropped in silence.

mod click;
mod exported;
mod midi;
mod musicxml;
mod pieces;
mod tab;
mod xml;

pub use click::click_midi;
pub use exported::Exported;

use takegauge_drill::Drill;

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

/// Writes a drill in a format.
pub fn write(drill: &Drill, format: Format) -> Exported {
    match format {
        Format::MusicXml => musicxml::write(drill),
        Format::Midi => midi::write(drill),
        Format::Tab => tab::write(drill),
        Format::Drill => Exported { bytes: drill.to_toml().into_bytes(), losses: Vec::new() },
    }
}
