//! What a file's first bytes say before a demuxer sees it: containers that are known but not read here, and what a
//! WAV or AIFF header claims beside what is really there.
//!
//! RIFF/WAVE: Microsoft/IBM, Multimedia Programming Interface and Data Specifications 1.0 (1991). AIFF: Apple, Audio
//! Interchange File Format 1.3 (1989). WAV files past 4 GiB: [`crate::long`].

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use symphonia::core::io::MediaSource;

/// A container that is recognised only to be refused by name: what it is, and what to do.
pub(crate) fn refused(head: &[u8]) -> Option<(&'static str, &'static str)> {
    let starts = |mark: &[u8]| head.starts_with(mark);
    if starts(b"wvpk") {
        Some(("a WavPack file", "export it as WAV or FLAC"))
    } else if starts(b"MAC ") {
        Some(("a Monkey's Audio file", "export it as WAV or FLAC"))
    } else if starts(b"\x30\x26\xb2\x75\x8e\x66\xcf\x11") {
        Some(("a Windows Media (WMA, ASF) file", "export it as WAV or FLAC"))
    } else if starts(b"\x0b\x77") {
        Some(("an AC-3 (Dolby Digital) stream", "export it as WAV or FLAC"))
    } else if starts(b"#!AMR") {
        Some(("an AMR voice recording", "record with an app that writes WAV, FLAC, AAC or MP3"))
    } else if starts(b"MThd") {
        Some(("a MIDI file, which holds notes and no sound", "record the sound itself"))
    } else {
        None
    }
}

/// What a WAV or AIFF file's header claims and what the file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct ChunkHeader {
    /// Channels in the format chunk.
    pub(crate) channels: u16,
    /// Samples a second in a WAV file's format chunk.
    pub(crate) rate_hz: Option<u32>,
    /// Bytes a frame.
    pub(crate) frame_bytes: u16,
    /// AIFF: lengths are big-endian, and 8 bytes of the sound chunk are not sound.
    aiff: bool,
    /// Where the data chunk's length field stands.
    length_at: u64,
    /// What it says, without AIFF's 8 bytes.
    declared_bytes: u32,
    /// Bytes from the data's start to the file's end.
    present_bytes: u64,
    /// The first length field agrees with the file's length (one byte of padding allowed).
    whole_agrees: bool,
    /// The bytes right after the declared data look like a chunk, or the file's end.
    follows_chunk: bool,
}

impl ChunkHeader {
    /// Reads chunk headers up to the sound; `None` if this is neither kind of file or the chunks lead nowhere.
    pub(crate) fn read(file: &mut File, file_len: u64) -> io::Result<Option<Self>> {
        file.seek(SeekFrom::Start(0))?;
        let mut head = [0u8; 12];
        if read_up_to(file, &mut head)? < 12 {
            return Ok(None);
        }
        let aiff = match (&head[..4], &head[8..]) {
            (b"RIFF", b"WAVE") => false,
            (b"FORM", b"AIFF" | b"AIFC") => true,
            _ => return Ok(None),
        };
        let whole_len = u64::from(length(aiff, &head[4..]));
        let mut format = None;
        let mut at = 12u64;
        // Recorders write a handful of chunks before the data; a thousand is damage.
        for _ in 0..1000 {
            file.seek(SeekFrom::Start(at))?;
            let mut chunk = [0u8; 8];
            if read_up_to(file, &mut chunk)? < 8 {
                return Ok(None);
            }
            let len = length(aiff, &chunk[4..]);
            match &chunk[..4] {
                b"fmt " | b"COMM" => {
                    let mut f = [0u8; 16];
                    if read_up_to(file, &mut f)? < 16 {
                        return Ok(None);
                    }
                    format = Some(if aiff { comm(&f) } else { fmt(&f) });
                }
                b"data" | b"SSND" => {
                    let Some((channels, rate_hz, frame_bytes)) = format else { return Ok(None) };
                    let not_sound = if aiff { 8 } else { 0 };
                    return Ok(Some(Self {
                        channels,
                        rate_hz,
                        frame_bytes,
                        aiff,
                        length_at: at + 4,
                        declared_bytes: if len == u32::MAX { len } else { len.saturating_sub(not_sound) },
                        present_bytes: file_len.saturating_sub(at + 8 + u64::from(not_sound)),
                        whole_agrees: whole_len + 8 == file_len || whole_len + 9 == file_len,
                        follows_chunk: follows_chunk(file, aiff, at + 8 + u64::from(len), file_len)?,
                    }));
                }
                _ => {}
            }
            at += 8 + u64::from(len) + u64::from(len % 2);
        }
        Ok(None)
    }

    /// A recorder that crashed, or writes to a pipe, leaves the length at 0 or at the largest value.
    pub(crate) fn length_unknown(&self) -> bool {
        self.declared_bytes == u32::MAX || (self.declared_bytes == 0 && self.present_bytes > 0 && !self.follows_chunk)
    }

    /// A length of 0 before sound that is there.
    pub(crate) fn left_open(&self) -> bool {
        self.length_unknown() && self.declared_bytes == 0
    }

    /// Bytes of sound to read.
    fn usable_bytes(&self) -> u64 {
        let declared = if self.length_unknown() { u64::MAX } else { u64::from(self.declared_bytes) };
        let bytes = declared.min(self.present_bytes);
        bytes - bytes % u64::from(self.frame_bytes.max(1))
    }

    /// Frames that the header promises, where `frames` are there.
    pub(crate) fn promised(&self, frames: u64) -> u64 {
        let usable = self.usable_bytes();
        if self.length_unknown() || usable == 0 || u64::from(self.declared_bytes) <= self.present_bytes {
            return frames;
        }
        let promised = u128::from(frames) * u128::from(self.declared_bytes) / u128::from(usable);
        u64::try_from(promised).unwrap_or(frames)
    }

    /// Whole frames of data beyond the declared end that are no chunk: the header is shorter than the recording.
    pub(crate) fn frames_beyond(&self) -> u64 {
        if self.length_unknown() || self.follows_chunk || self.frame_bytes == 0 {
            return 0;
        }
        self.present_bytes.saturating_sub(u64::from(self.declared_bytes)) / u64::from(self.frame_bytes)
    }

    /// The four-byte fields to overlay so that a demuxer reads exactly what is there.
    fn patches(&self) -> Vec<(u64, [u8; 4])> {
        match u32::try_from(self.usable_bytes()) {
            Ok(b) if b != self.declared_bytes || !self.whole_agrees => {
                if self.aiff {
                    // The file is made to end with its sound: Symphonia walks the chunks behind it, too.
                    let chunk = b.saturating_add(8);
                    let whole = u32::try_from(self.length_at - 4 + u64::from(chunk)).unwrap_or(u32::MAX);
                    vec![(4, whole.to_be_bytes()), (self.length_at, chunk.to_be_bytes())]
                } else {
                    vec![(4, u32::MAX.to_le_bytes()), (self.length_at, b.to_le_bytes())]
                }
            }
            _ => Vec::new(),
        }
    }
}

/// A chunk's length, from its four bytes.
fn length(big_endian: bool, bytes: &[u8]) -> u32 {
    let b = [bytes[0], bytes[1], bytes[2], bytes[3]];
    if big_endian { u32::from_be_bytes(b) } else { u32::from_le_bytes(b) }
}

/// Channels, rate and bytes a frame from a WAV format chunk.
fn fmt(f: &[u8; 16]) -> (u16, Option<u32>, u16) {
    let rate_hz = u32::from_le_bytes([f[4], f[5], f[6], f[7]]);
    (u16::from_le_bytes([f[2], f[3]]), Some(rate_hz), u16::from_le_bytes([f[12], f[13]]))
}

/// The same from an AIFF common chunk, whose rate is an 80-bit float that the demuxer reads.
fn comm(f: &[u8; 16]) -> (u16, Option<u32>, u16) {
    let (channels, bits) = (u16::from_be_bytes([f[0], f[1]]), u16::from_be_bytes([f[6], f[7]]));
    (channels, None, channels.saturating_mul(bits.div_ceil(8)))
}

/// True at the file's end (a pad byte allowed) and before four printable bytes that can name a chunk.
fn follows_chunk(file: &mut File, big_endian: bool, at: u64, file_len: u64) -> io::Result<bool> {
    if at + 1 >= file_len {
        return Ok(true);
    }
    for pad in [0, at % 2] {
        file.seek(SeekFrom::Start(at + pad))?;
        let mut id = [0u8; 8];
        if read_up_to(file, &mut id)? == 8
            && id[..4].iter().all(|b| b.is_ascii_alphanumeric() || b" _-".contains(b))
            && at + pad + 8 + u64::from(length(big_endian, &id[4..])) <= file_len
        {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Fills as much of `buf` as the file still has.
pub(crate) fn read_up_to(file: &mut impl Read, buf: &mut [u8]) -> io::Result<usize> {
    let mut n = 0;
    while n < buf.len() {
        match file.read(&mut buf[n..]) {
            Ok(0) => break,
            Ok(k) => n += k,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(n)
}

/// A file of which a few bytes read differently.
pub(crate) struct Patched {
    file: File,
    at: u64,
    len: u64,
    patches: Vec<(u64, [u8; 4])>,
}

impl Patched {
    pub(crate) fn new(mut file: File, len: u64, header: Option<&ChunkHeader>) -> io::Result<Self> {
        file.seek(SeekFrom::Start(0))?;
        Ok(Self { file, at: 0, len, patches: header.map(ChunkHeader::patches).unwrap_or_default() })
    }
}

impl Read for Patched {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = self.file.read(buf)?;
        for (at, bytes) in &self.patches {
            for (i, b) in bytes.iter().enumerate() {
                let place = (at + i as u64).checked_sub(self.at).and_then(|p| usize::try_from(p).ok());
                if let Some(slot) = place.and_then(|p| buf[..n].get_mut(p)) {
                    *slot = *b;
                }
            }
        }
        self.at += n as u64;
        Ok(n)
    }
}

impl Seek for Patched {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.at = self.file.seek(to)?;
        Ok(self.at)
    }
}

impl MediaSource for Patched {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.len)
    }
}
