//! Where a sound track in an MP4, M4A or MOV file really begins and ends. Symphonia 0.6 reads edit lists and does not
//! apply them, so the encoder's lead-in (1,024 samples and more of AAC) would stand at the front of every take.
//!
//! Boxes by ISO/IEC 14496-12:2015 (8.2.2 mvhd, 8.3.2 tkhd, 8.4.2 mdhd, 8.6.6 elst). `iTunSMPB` is a text field of
//! hexadecimal numbers in the metadata: 0, delay, padding, length in samples.

use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use std::path::Path;

/// What to cut from a decoded sound track, in frames at its own rate.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Trim {
    /// Frames to drop at the start.
    pub(crate) skip: u64,
    /// Frames that belong to the take after that.
    pub(crate) keep: Option<u64>,
    /// The file says where the sound begins.
    pub(crate) stated: bool,
    /// Seconds of the movie before the sound begins.
    pub(crate) gap_s: f64,
    /// What the user should know about it.
    pub(crate) notes: Vec<String>,
}

/// The most entries of an edit list that are read: a recording has one or two, an edit by hand some dozen.
const MAX_ENTRIES: u32 = 4096;

/// Reads the trim of one track; a file without any gives the empty one.
pub(crate) fn read(path: &Path, track_id: u32, rate_hz: u32) -> io::Result<Trim> {
    let mut file = File::open(path)?;
    let len = file.metadata()?.len();
    let mut boxes =
        Boxes { file: BufReader::with_capacity(512, &mut file), found: Found::default(), track_id, left: 100_000 };
    match boxes.walk(0, len, 0) {
        Err(e) if e.kind() == io::ErrorKind::UnexpectedEof => {}
        other => other?,
    }
    Ok(boxes.found.trim(rate_hz))
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Edit {
    /// In movie ticks.
    length: u64,
    /// In media ticks; -1 is an empty stretch.
    media_time: i64,
}

#[derive(Debug, Default)]
struct Found {
    movie_ticks: u32,
    /// Of the track being read, then of the wanted one.
    track: Option<u32>,
    media_ticks: u32,
    edits: Vec<Edit>,
    wanted: Option<(u32, Vec<Edit>)>,
    smpb: Option<(u64, u64)>,
}

impl Found {
    fn trim(self, rate_hz: u32) -> Trim {
        let mut trim = Trim::default();
        let frames = |ticks: u64, scale: u32| {
            u64::try_from((u128::from(ticks) * u128::from(rate_hz) + u128::from(scale / 2)) / u128::from(scale.max(1)))
                .unwrap_or(u64::MAX)
        };
        if let Some((media_ticks, edits)) = self.wanted {
            let mut played = edits.iter().filter(|e| e.media_time >= 0);
            if let Some(first) = played.next() {
                trim.skip = frames(first.media_time.unsigned_abs(), media_ticks);
                trim.stated = true;
                if played.next().is_some() {
                    trim.notes.push(
                        "the file is an edited movie of several pieces; its sound was read in recorded order from the \
                         first piece on"
                            .to_owned(),
                    );
                } else if first.length > 0 && self.movie_ticks > 0 {
                    // Movie ticks may be as coarse as a millisecond: rather a tick too much than a note cut short.
                    let tick = u64::from(self.movie_ticks < rate_hz);
                    trim.keep = Some(frames(first.length.saturating_add(tick), self.movie_ticks));
                }
            }
            let gap: u64 = edits.iter().take_while(|e| e.media_time < 0).map(|e| e.length).fold(0, u64::saturating_add);
            if gap > 0 && self.movie_ticks > 0 {
                trim.gap_s = gap as f64 / f64::from(self.movie_ticks);
                trim.notes.push(format!(
                    "the sound begins {:.3} s after the picture in this file; times count from the sound's first sample",
                    trim.gap_s
                ));
            }
        }
        if let Some((delay, length)) = self.smpb.filter(|_| trim.skip == 0) {
            trim.skip = delay;
            trim.keep = (length > 0).then_some(length);
            trim.stated = true;
        }
        trim
    }
}

struct Boxes<R> {
    file: R,
    found: Found,
    track_id: u32,
    /// Boxes that may still be opened: a bound on what a forged file can cost.
    left: u32,
}

impl<R: Read + Seek> Boxes<R> {
    fn walk(&mut self, mut at: u64, end: u64, depth: u32) -> io::Result<()> {
        while at.saturating_add(8) <= end && self.left > 0 && depth < 12 {
            self.left -= 1;
            self.file.seek(SeekFrom::Start(at))?;
            let size = u64::from(self.u32()?);
            let kind = self.bytes::<4>()?;
            let (body, next) = match size {
                0 => (at + 8, end),
                1 => {
                    let long = self.u64()?;
                    (at + 16, at.saturating_add(long))
                }
                n => (at + 8, at + n),
            };
            if next < body || next > end {
                return Ok(());
            }
            self.open(&kind, body, next, depth)?;
            at = next;
        }
        Ok(())
    }

    fn open(&mut self, kind: &[u8; 4], body: u64, end: u64, depth: u32) -> io::Result<()> {
        match kind {
            b"moov" | b"mdia" | b"edts" | b"udta" | b"ilst" => self.walk(body, end, depth + 1),
            b"trak" => {
                (self.found.track, self.found.media_ticks) = (None, 0);
                self.found.edits.clear();
                self.walk(body, end, depth + 1)?;
                if self.found.track == Some(self.track_id) && self.found.media_ticks > 0 {
                    self.found.wanted = Some((self.found.media_ticks, std::mem::take(&mut self.found.edits)));
                }
                Ok(())
            }
            b"meta" => {
                // Full box in MP4, plain in QuickTime files.
                let full = self.bytes::<8>()?;
                self.walk(if &full[4..] == b"hdlr" { body } else { body + 4 }, end, depth + 1)
            }
            b"mvhd" => {
                self.found.movie_ticks = self.after_dates()?;
                Ok(())
            }
            b"mdhd" => {
                self.found.media_ticks = self.after_dates()?;
                Ok(())
            }
            b"tkhd" => {
                self.found.track = Some(self.after_dates()?);
                Ok(())
            }
            b"elst" => self.edit_list(),
            b"----" if end - body < 4096 => self.free_form((end - body) as usize),
            _ => Ok(()),
        }
    }

    /// The field that follows the two dates in mvhd and mdhd (ticks a second) and tkhd (track number).
    fn after_dates(&mut self) -> io::Result<u32> {
        let version = self.u32()? >> 24;
        if version == 1 {
            self.bytes::<16>()?;
        } else {
            self.bytes::<8>()?;
        }
        self.u32()
    }

    fn edit_list(&mut self) -> io::Result<()> {
        let version = self.u32()? >> 24;
        for _ in 0..self.u32()?.min(MAX_ENTRIES) {
            let edit = if version == 1 {
                Edit { length: self.u64()?, media_time: i64::from_be_bytes(self.bytes()?) }
            } else {
                Edit { length: u64::from(self.u32()?), media_time: i64::from(i32::from_be_bytes(self.bytes()?)) }
            };
            self.u32()?;
            self.found.edits.push(edit);
        }
        Ok(())
    }

    fn free_form(&mut self, len: usize) -> io::Result<()> {
        let mut body = vec![0; len];
        self.file.read_exact(&mut body)?;
        if body.windows(8).any(|w| w == b"iTunSMPB") {
            self.found.smpb = gapless_text(&String::from_utf8_lossy(&body));
        }
        Ok(())
    }

    fn bytes<const N: usize>(&mut self) -> io::Result<[u8; N]> {
        let mut b = [0; N];
        self.file.read_exact(&mut b)?;
        Ok(b)
    }

    fn u32(&mut self) -> io::Result<u32> {
        self.bytes().map(u32::from_be_bytes)
    }

    fn u64(&mut self) -> io::Result<u64> {
        self.bytes().map(u64::from_be_bytes)
    }
}

/// Delay and length from the text that ends an `iTunSMPB` field.
fn gapless_text(text: &str) -> Option<(u64, u64)> {
    let at = text.find(" 00000000 ")?;
    let mut numbers = text[at..].split_ascii_whitespace().skip(1).map(|n| u64::from_str_radix(n, 16));
    let (delay, _padding, length) = (numbers.next()?.ok()?, numbers.next()?.ok()?, numbers.next()?.ok()?);
    Some((delay, length))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxed(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
        let mut b = ((body.len() + 8) as u32).to_be_bytes().to_vec();
        b.extend_from_slice(kind);
        b.extend_from_slice(body);
        b
    }

    fn words(values: &[u32]) -> Vec<u8> {
        values.iter().flat_map(|v| v.to_be_bytes()).collect()
    }

    fn movie(edits: &[(u32, i32)], smpb: &str) -> Vec<u8> {
        let mut list = words(&[0, edits.len() as u32]);
        for (length, time) in edits {
            list.extend(words(&[*length, *time as u32, 0x1_0000]));
        }
        let track = |id: u32, extra: Vec<u8>| {
            let media = boxed(b"mdia", &boxed(b"mdhd", &words(&[0, 0, 0, 44_100, 99])));
            boxed(b"trak", &[boxed(b"tkhd", &words(&[0, 0, 0, id])), extra, media].concat())
        };
        let mut moov = boxed(b"mvhd", &words(&[0, 0, 0, 1000, 99]));
        moov.extend(track(7, Vec::new()));
        moov.extend(track(2, boxed(b"edts", &boxed(b"elst", &list))));
        if !smpb.is_empty() {
            let field = boxed(b"----", format!("nameiTunSMPBdata{smpb}").as_bytes());
            let meta = [words(&[0]), boxed(b"hdlr", &[0; 4]), boxed(b"ilst", &field)].concat();
            moov.extend(boxed(b"udta", &boxed(b"meta", &meta)));
        }
        [boxed(b"ftyp", b"M4A "), boxed(b"moov", &moov)].concat()
    }

    fn read_bytes(bytes: &[u8], track_id: u32) -> Trim {
        let mut b = Boxes { file: io::Cursor::new(bytes), found: Found::default(), track_id, left: 100 };
        let _ = b.walk(0, bytes.len() as u64, 0);
        b.found.trim(44_100)
    }

    const SMPB: &str = " 00000000 00000840 000001C0 0000000000012345 00000000";

    #[test]
    fn the_edit_list_of_the_right_track_counts() {
        let t = read_bytes(&movie(&[(2000, 1024)], ""), 2);
        assert_eq!((t.skip, t.keep, t.stated), (1024, Some(88_244), true));
        assert_eq!(read_bytes(&movie(&[(2000, 1024)], ""), 7), Trim::default());
        assert_eq!(read_bytes(&movie(&[(0, 2112)], SMPB), 2).keep, None);
    }

    #[test]
    fn gapless_text_counts_where_no_edit_cuts() {
        let t = read_bytes(&movie(&[], SMPB), 2);
        assert_eq!((t.skip, t.keep, t.stated), (0x840, Some(0x12345), true));
        assert_eq!(read_bytes(&movie(&[], " 00000000 zz"), 2), Trim::default());
    }

    #[test]
    fn odd_edits_are_said() {
        let t = read_bytes(&movie(&[(21, -1), (2000, 1024)], ""), 2);
        assert!(t.notes[0].contains("0.021 s after the picture"), "{t:?}");
        assert_eq!((t.skip, t.gap_s), (1024, 0.021));
        let t = read_bytes(&movie(&[(500, 1024), (500, 90_000)], ""), 2);
        assert_eq!((t.skip, t.keep), (1024, None));
        assert!(t.notes[0].contains("several pieces"));
    }

    #[test]
    fn cut_and_forged_boxes_end_quietly() {
        let whole = movie(&[(2000, 1024)], SMPB);
        for cut in 0..whole.len() {
            read_bytes(&whole[..cut], 2);
        }
        let mut b = boxed(b"moov", &[0; 64]);
        b[0..4].copy_from_slice(&u32::MAX.to_be_bytes());
        assert_eq!(read_bytes(&b, 1), Trim::default());
    }
}
