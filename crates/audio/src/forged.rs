//! Tables of a container that a demuxer would walk or hold although the file cannot back them. They are looked at after
//! the container is recognised and before its packets are asked for.
//!
//! MP4 fragments: ISO/IEC 14496-12:2015, 8.8.8 (trun). CAF: Apple, Core Audio Format Specification 1.0.

use crate::AudioError;
use crate::limits::{MOST_PACKET_BYTES, MOST_PACKETS, too_much};
use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use std::path::Path;

/// Boxes of a file that are looked at: more than an hour of fragments of a tenth of a second.
const MOST_BOXES: u32 = 1_000_000;
/// Fields of a run's samples, four bytes each where they are there.
const SAMPLE_FIELDS: u32 = 0xf00;
/// How far Symphonia looks for a container's first bytes.
const PROBED: u64 = 1 << 20;

/// Refuses an MP4 file whose fragments list more samples than the file has bytes: a list without sizes costs nothing to
/// write and four thousand million steps to read.
///
/// # Errors
/// [`AudioError::TooMuch`], [`AudioError::Read`].
pub(crate) fn fragments(path: &Path) -> Result<(), AudioError> {
    let read = |source| AudioError::Read { path: path.to_path_buf(), source };
    let file = File::open(path).map_err(read)?;
    let len = file.metadata().map_err(read)?.len();
    let mut file = BufReader::with_capacity(4096, file);
    let first = find(&mut file, b"ftyp").map_err(read)?.map_or(0, |at| at.saturating_sub(4));
    for start in [0, first] {
        let mut walk = Runs { file: &mut file, left: MOST_BOXES, samples: 0, most: len, playable: false };
        match walk.boxes(start, len, 0) {
            Ok(true) => {}
            Ok(false) => {
                return Err(too_much(path, format!("fragments of more samples than its {len} bytes can hold")));
            }
            Err(e) if e.kind() == io::ErrorKind::UnexpectedEof => {}
            Err(e) => return Err(read(e)),
        }
        if first == 0 {
            break;
        }
    }
    Ok(())
}

struct Runs<'a, R> {
    file: &'a mut R,
    left: u32,
    samples: u64,
    most: u64,
    /// Whether the tracks are known: from there on a demuxer takes sound that comes for sound.
    playable: bool,
}

impl<R: Read + Seek> Runs<'_, R> {
    /// False where the samples listed cannot be there.
    fn boxes(&mut self, mut at: u64, end: u64, depth: u32) -> io::Result<bool> {
        while at.saturating_add(8) <= end {
            if self.left == 0 || depth > 4 {
                return Ok(false);
            }
            self.left -= 1;
            self.file.seek(SeekFrom::Start(at))?;
            let size = u64::from(u32::from_be_bytes(bytes(self.file)?));
            let kind: [u8; 4] = bytes(self.file)?;
            let (body, next) = match size {
                // A box that goes on to the end: a demuxer that does not know it looks for others inside.
                0 if self.playable && &kind == b"mdat" => (at + 8, end),
                0 => (at + 8, at + 8),
                1 => (at + 16, at.saturating_add(u64::from_be_bytes(bytes(self.file)?))),
                n => (at + 8, at + n),
            };
            if next < body {
                return Ok(true);
            }
            self.playable |= &kind == b"moov";
            let whole = match &kind {
                b"moof" | b"traf" => self.boxes(body, next.min(end), depth + 1)?,
                b"trun" => {
                    self.file.seek(SeekFrom::Start(body))?;
                    self.run(next - body)?
                }
                _ => true,
            };
            if !whole {
                return Ok(false);
            }
            at = next;
        }
        Ok(true)
    }

    fn run(&mut self, size: u64) -> io::Result<bool> {
        let flags = u32::from_be_bytes(bytes(self.file)?);
        let samples = u64::from(u32::from_be_bytes(bytes(self.file)?));
        let each = 4 * u64::from((flags & SAMPLE_FIELDS).count_ones());
        self.samples = self.samples.saturating_add(samples);
        Ok(self.samples <= self.most && samples.saturating_mul(each) <= size)
    }
}

/// Refuses a CAF file whose packets are larger, or their table longer, than any recording's.
///
/// # Errors
/// [`AudioError::TooMuch`].
pub(crate) fn packet_table(path: &Path, file: &mut File) -> Result<(), AudioError> {
    let mut file = BufReader::with_capacity(4096, file);
    match caf(&mut file) {
        Ok(Some(what)) => Err(too_much(path, what)),
        // What cannot be read to its end is the demuxer's to tell.
        Ok(None) | Err(_) => Ok(()),
    }
}

fn caf(file: &mut (impl Read + Seek)) -> io::Result<Option<String>> {
    let Some(start) = find(file, b"caff")? else { return Ok(None) };
    let mut at = start + 8;
    for _ in 0..1000 {
        file.seek(SeekFrom::Start(at))?;
        let kind: [u8; 4] = bytes(file)?;
        let Ok(size) = u64::try_from(i64::from_be_bytes(bytes(file)?)) else { return Ok(None) };
        match &kind {
            b"desc" => {
                // Rate, format, flags, and then bytes a packet.
                bytes::<16, _>(file)?;
                let packet = u32::from_be_bytes(bytes(file)?);
                if packet as usize > MOST_PACKET_BYTES {
                    return Ok(Some(format!("packets of {packet} bytes (at most {MOST_PACKET_BYTES} are read)")));
                }
            }
            b"pakt" => {
                let packets = i64::from_be_bytes(bytes(file)?);
                if packets > MOST_PACKETS as i64 {
                    return Ok(Some(format!("a table of {packets} packets (at most {MOST_PACKETS} are read)")));
                }
            }
            _ => {}
        }
        at = at.saturating_add(12).saturating_add(size);
    }
    Ok(None)
}

/// Where a mark stands first, as far as a demuxer would look for it.
fn find(file: &mut (impl Read + Seek), mark: &[u8; 4]) -> io::Result<Option<u64>> {
    file.seek(SeekFrom::Start(0))?;
    let mut head = Vec::new();
    file.take(PROBED + 64).read_to_end(&mut head)?;
    Ok(head.windows(4).position(|w| w == mark).map(|at| at as u64))
}

fn bytes<const N: usize, R: Read>(file: &mut R) -> io::Result<[u8; N]> {
    let mut b = [0; N];
    file.read_exact(&mut b)?;
    Ok(b)
}
