//! What a Matroska or WebM file says of its encoder's own frames, which Symphonia 0.6 rounds to a millisecond
//! (CodecDelay) or passes over (DiscardPadding).
//!
//! Elements by RFC 9559, sections 5.1.3.5 (blocks) and 5.1.4.1 (tracks); identifiers and sizes by RFC 8794. Files that
//! were recorded live leave sizes open, so the elements that hold others are entered rather than measured.

use std::fs::File;
use std::io::{self, BufReader, Read, Seek};
use std::path::Path;

/// What is said of one track.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Stated {
    /// Nanoseconds that come out of the decoder before the recording begins.
    pub(crate) delay_ns: Option<u64>,
    /// Frames at 48 kHz of all of an Opus track's packets; `None` where one of them cannot be told.
    pub(crate) opus_frames: Option<u64>,
    /// Nanoseconds of padding that end the last packet.
    pub(crate) padding_ns: u64,
}

/// Elements looked at at most: 12 hours of packets of 10 ms.
const MOST_ELEMENTS: u32 = 5_000_000;

/// Reads what is said of a track; what is cut or forged ends the reading quietly.
pub(crate) fn read(path: &Path, track: u32) -> io::Result<Stated> {
    let mut walk = Walk::new(BufReader::with_capacity(1024, File::open(path)?), u64::from(track));
    match walk.all() {
        Err(e) if e.kind() == io::ErrorKind::UnexpectedEof => {}
        other => other?,
    }
    Ok(walk.said)
}

struct Walk<R> {
    file: BufReader<R>,
    wanted: u64,
    said: Stated,
    /// The track that is being described.
    described: Option<u64>,
    delay_ns: Option<u64>,
    /// Whether the block group being read is of the wanted track.
    ours: bool,
}

impl<R: Read + Seek> Walk<R> {
    fn new(file: BufReader<R>, wanted: u64) -> Self {
        let said = Stated { opus_frames: Some(0), ..Stated::default() };
        Self { file, wanted, said, described: None, delay_ns: None, ours: false }
    }

    fn all(&mut self) -> io::Result<()> {
        for _ in 0..MOST_ELEMENTS {
            let id = self.number(false)?;
            let size = self.number(true)?;
            let used = match id {
                // Segment, Tracks and Cluster are entered.
                0x1853_8067 | 0x1654_ae6b | 0x1f43_b675 => continue,
                // TrackEntry, BlockGroup
                0xae => {
                    (self.described, self.delay_ns) = (None, None);
                    continue;
                }
                0xa0 => {
                    self.ours = false;
                    continue;
                }
                0xd7 if size <= 8 => {
                    self.described = Some(self.unsigned(size)?);
                    size
                }
                0x56aa if size <= 8 => {
                    self.delay_ns = Some(self.unsigned(size)?);
                    size
                }
                // Block, SimpleBlock
                0xa1 | 0xa3 => self.block(size)?,
                0x75a2 if size <= 8 && self.ours => {
                    // What a signed number below zero says is meant for the start of a packet.
                    let said = self.unsigned(size)?;
                    self.said.padding_ns = if size > 0 && said >> (8 * size - 1) == 1 { 0 } else { said };
                    size
                }
                _ => 0,
            };
            if self.described == Some(self.wanted) {
                self.said.delay_ns = self.said.delay_ns.or(self.delay_ns);
            }
            self.skip(size.saturating_sub(used))?;
        }
        Ok(())
    }

    /// Reads a block's head and the first two bytes of its packet; returns how many bytes that were.
    fn block(&mut self, size: u64) -> io::Result<u64> {
        let (track, width) = self.vint(true)?;
        let [_, _, flags] = self.bytes()?;
        let head = width + 3;
        self.ours = track == self.wanted;
        if !self.ours {
            return Ok(head);
        }
        self.said.padding_ns = 0;
        let mut start = [0; 2];
        let there = usize::try_from(size.saturating_sub(head)).unwrap_or(2).min(2);
        self.file.read_exact(&mut start[..there])?;
        let laced = flags & 0x06 != 0;
        let frames = if laced { None } else { crate::opus::frames_of(&start[..there]) };
        self.said.opus_frames = self.said.opus_frames.zip(frames).map(|(sum, n)| sum.saturating_add(n));
        Ok(head + there as u64)
    }

    fn skip(&mut self, by: u64) -> io::Result<()> {
        match i64::try_from(by) {
            Ok(by) => self.file.seek_relative(by),
            Err(_) => Err(io::ErrorKind::UnexpectedEof.into()),
        }
    }

    fn number(&mut self, is_size: bool) -> io::Result<u64> {
        self.vint(is_size).map(|(n, _)| n)
    }

    /// A number of 1 to 8 bytes and how many; an identifier keeps the mark of its length, a size does not.
    fn vint(&mut self, is_size: bool) -> io::Result<(u64, u64)> {
        let [first] = self.bytes()?;
        let zeros = first.leading_zeros();
        if zeros > 7 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        let mut n = u64::from(if is_size { first & (0x7f_u8 >> zeros) } else { first });
        for _ in 0..zeros {
            let [next] = self.bytes()?;
            n = n << 8 | u64::from(next);
        }
        Ok((n, u64::from(zeros) + 1))
    }

    fn unsigned(&mut self, size: u64) -> io::Result<u64> {
        let mut n = 0;
        for _ in 0..size {
            let [next] = self.bytes()?;
            n = n << 8 | u64::from(next);
        }
        Ok(n)
    }

    fn bytes<const N: usize>(&mut self) -> io::Result<[u8; N]> {
        let mut b = [0; N];
        self.file.read_exact(&mut b)?;
        Ok(b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn element(id: &[u8], body: &[u8]) -> Vec<u8> {
        [id, &[0x40 | (body.len() >> 8) as u8, body.len() as u8], body].concat()
    }

    /// Two tracks, the first of which is a picture; packets of 20 ms, and 6 ms of padding at the end of the second's.
    fn film(padding: &[u8]) -> Vec<u8> {
        let track = |n: u8, more: Vec<u8>| element(&[0xae], &[element(&[0xd7], &[n]), more].concat());
        let delay = element(&[0x56, 0xaa], &6_500_000u32.to_be_bytes());
        let tracks = element(&[0x16, 0x54, 0xae, 0x6b], &[track(1, Vec::new()), track(2, delay)].concat());
        let simple = |n: u8| element(&[0xa3], &[0x80 | n, 0, 0, 0x80, 0xfc, 1, 2, 3]);
        let last = [element(&[0xa1], &[0x82, 0, 20, 0, 0xfc, 1]), element(&[0x75, 0xa2], padding)].concat();
        let blocks = [simple(2), simple(1), element(&[0xa0], &last), simple(1)].concat();
        // A segment and a cluster of open length, as live recorders write them.
        let open = [0x01, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff];
        let segment = [&[0x18, 0x53, 0x80, 0x67][..], &open, &tracks, &[0x1f, 0x43, 0xb6, 0x75], &open, &blocks];
        [element(&[0x1a, 0x45, 0xdf, 0xa3], b"webm"), segment.concat()].concat()
    }

    fn read_bytes(bytes: &[u8], track: u64) -> Stated {
        let mut walk = Walk::new(BufReader::new(io::Cursor::new(bytes)), track);
        assert_eq!(walk.all().unwrap_err().kind(), io::ErrorKind::UnexpectedEof);
        walk.said
    }

    #[test]
    fn delay_length_and_padding_are_those_of_the_track() {
        let whole = film(&6_000_000u32.to_be_bytes());
        let said = Stated { delay_ns: Some(6_500_000), opus_frames: Some(1920), padding_ns: 6_000_000 };
        assert_eq!(read_bytes(&whole, 2), said);
        assert_eq!(read_bytes(&whole, 1).delay_ns, None);
        assert_eq!(read_bytes(&film(&[0xff, 0]), 2).padding_ns, 0, "less than nothing");
    }

    #[test]
    fn cut_and_forged_elements_end_quietly() {
        let whole = film(&[1]);
        for cut in 0..whole.len() {
            read_bytes(&whole[..cut], 2);
        }
        read_bytes(&[0, 0, 0, 0], 2);
        read_bytes(&[0xa3, 0x01, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff], 2);
    }
}
