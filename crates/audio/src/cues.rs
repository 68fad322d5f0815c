//! Cue points and their labels, as RIFF chunks behind a WAV file's samples, so that a DAW shows them on its time line.
//!
//! Layout: Microsoft & IBM, "Multimedia Programming Interface and Data Specifications 1.0" (1991), chapter 2, "Cue-Points
//! Chunk" and "Associated Data Chunk". All numbers are little-endian; chunks stand on even offsets.

use crate::long;
use std::io::{Error, ErrorKind, Read, Result, Seek, SeekFrom, Write};
use takegauge_units::SampleIndex;

/// A named point of a WAV file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cue {
    /// The sample (frame) it stands on.
    pub at: SampleIndex,
    /// Its name. What is not printable ASCII is written as `?`: the chunk names no character set.
    pub label: String,
}

/// Appends the chunks to a finished WAV file and mends the size in its header.
pub(crate) fn append<F: Read + Write + Seek>(file: &mut F, cues: &[Cue]) -> Result<()> {
    let end = file.seek(SeekFrom::End(0))?;
    let mut tail = Vec::new();
    if end % 2 == 1 {
        tail.push(0);
    }
    chunks(cues, &mut tail)?;
    file.write_all(&tail)?;
    if long::lengthen(file)? {
        return Ok(());
    }
    let whole = u32::try_from(end + tail.len() as u64 - 8).map_err(|_| too_long())?;
    file.seek(SeekFrom::Start(4))?;
    file.write_all(&whole.to_le_bytes())?;
    file.flush()
}

fn too_long() -> Error {
    Error::new(ErrorKind::InvalidInput, "a WAV file with cue points holds at most 4 GiB and 4,294,967,295 samples")
}

fn chunks(cues: &[Cue], out: &mut Vec<u8>) -> Result<()> {
    let count = u32::try_from(cues.len()).map_err(|_| too_long())?;
    let mut points = count.to_le_bytes().to_vec();
    let mut list = b"adtl".to_vec();
    for (id, cue) in (1u32..).zip(cues) {
        let at = u32::try_from(cue.at).map_err(|_| too_long())?;
        // Identifier, place in the play order (without a play list: the sample), chunk, its start, its block, sample.
        for field in [id, at, u32::from_le_bytes(*b"data"), 0, 0, at] {
            points.extend(field.to_le_bytes());
        }
        let mut label = id.to_le_bytes().to_vec();
        label.extend(cue.label.chars().map(|c| if matches!(c, ' '..='~') { c as u8 } else { b'?' }));
        label.push(0);
        chunk(b"labl", &label, &mut list)?;
    }
    chunk(b"cue ", &points, out)?;
    chunk(b"LIST", &list, out)
}

fn chunk(name: &[u8; 4], body: &[u8], out: &mut Vec<u8>) -> Result<()> {
    out.extend(name);
    out.extend(u32::try_from(body.len()).map_err(|_| too_long())?.to_le_bytes());
    out.extend(body);
    if body.len() % 2 == 1 {
        out.push(0);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ChannelChoice, WavFormat, WavWriter, read_all};
    use takegauge_units::SampleRate;

    /// Name and body of each chunk after the form type.
    fn read_chunks(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
        let size = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
        assert_eq!((&bytes[..4], size(4) + 8, &bytes[8..12]), (&b"RIFF"[..], bytes.len(), &b"WAVE"[..]));
        let (mut at, mut found) = (12, Vec::new());
        while at < bytes.len() {
            let end = at + 8 + size(at + 4);
            found.push((String::from_utf8(bytes[at..at + 4].to_vec()).unwrap(), bytes[at + 8..end].to_vec()));
            at = end + end % 2;
        }
        found
    }

    #[test]
    fn cue_points_and_labels_read_back_and_the_sound_stays() {
        let folder = tempfile::tempdir().unwrap();
        let rate = SampleRate::new(48_000).unwrap();
        let cues = [(7, "note 1 expected"), (4_999, "note 1 not heard"), (5_000, "H\u{e4}mmer")]
            .map(|(at, l)| Cue { at, label: l.into() });
        // An odd number of bytes of sound needs a pad byte before the next chunk.
        for (format, frames) in [(WavFormat::Int16, 6_000), (WavFormat::Int24, 6_001), (WavFormat::Float32, 6_001)] {
            let path = folder.path().join("marked.wav");
            let sound: Vec<f32> = (0..frames).map(|n| (n as f32 * 0.05).sin() * 0.5).collect();
            let mut out = WavWriter::create(&path, rate, 1, format).unwrap();
            out.write(&sound).unwrap();
            out.finish_with_cues(&cues).unwrap();
            let found = read_chunks(&std::fs::read(&path).unwrap());
            let names: Vec<&str> = found.iter().map(|c| c.0.as_str()).collect();
            assert_eq!(names, ["fmt ", "data", "cue ", "LIST"], "{format:?}");
            let points = &found[2].1;
            let number = |at: usize| u32::from_le_bytes(points[at..at + 4].try_into().unwrap());
            assert_eq!(number(0), 3);
            let samples: Vec<(u32, u32)> = (0..3).map(|i| (number(4 + 24 * i), number(24 + 24 * i))).collect();
            assert_eq!(samples, [(1, 7), (2, 4_999), (3, 5_000)]);
            assert_eq!(&found[3].1[..12], b"adtllabl\x14\0\0\0");
            assert!(found[3].1.ends_with(b"\x03\0\0\0H?mmer\0\0"));
            let (back, summary) = read_all(&path, ChannelChoice::Auto).unwrap();
            assert_eq!((back.len(), summary.warnings.len()), (sound.len(), 0));
            assert!(back.iter().zip(&sound).all(|(a, b)| (a - b).abs() < 4e-5));
        }
    }

    #[test]
    fn more_than_the_format_holds_is_refused_and_nothing_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("long.wav");
        let out = WavWriter::create(&path, SampleRate::new(44_100).unwrap(), 1, WavFormat::Int16).unwrap();
        let beyond = Cue { at: 1 << 32, label: "far".into() };
        assert!(out.finish_with_cues(&[beyond]).unwrap_err().to_string().contains("4 GiB"));
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
