//! What a file's first bytes say before a demuxer sees it: containers that are known but not read here, and what a
//! WAV header claims beside what is really there.
//!
//! RIFF/WAVE: Microsoft/IBM, Multimedia Programming Interface and Data Specifications 1.0 (1991). RF64 and BW64: EBU
//! Tech 3306 (2007), ITU-R BS.2088. W64: the 128-bit GUID form of RIFF.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use symphonia::core::io::MediaSource;

/// A container that is recognised only to be refused by name: what it is, and what to do.
pub(crate) fn refused(head: &[u8]) -> Option<(&'static str, &'static str)> {
    const WAV_OR_FLAC: &str = "export it as WAV (under 4 GiB) or FLAC";
    let starts = |mark: &[u8]| head.starts_with(mark);
    if starts(b"RF64") || starts(b"BW64") {
        Some(("an RF64/BW64 file (WAV beyond 4 GiB)", WAV_OR_FLAC))
    } else if starts(b"riff\x2e\x91\xcf\x11") {
        Some(("a Wave64 (W64) file", WAV_OR_FLAC))
    } else if starts(b"wvpk") {
        Some(("a WavPack file", "export it as WAV or FLAC"))
    } else if starts(b"MAC ") {
        Some(("a Monkey's Audio file", "export it as WAV or FLAC"))
    } else if starts(b"\x30\x26\xb2\x75\x8e\x66\xcf\x11") {
        Some(("a Windows Media (WMA, ASF) file", "export it as WAV or FLAC"))
    } else if starts(b"#!AMR") {
        Some(("an AMR voice recording", "record with an app that writes WAV, FLAC, AAC or MP3"))
    } else if starts(b"MThd") {
        Some(("a MIDI file, which holds notes and no sound", "record the sound itself"))
    } else {
        None
    }
}

/// What a WAV file's header claims and what the file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct WavHeader {
    /// Channels in the format chunk.
    pub(crate) channels: u16,
    /// Samples a second in the format chunk.
    pub(crate) rate_hz: u32,
    /// Bytes a frame.
    pub(crate) frame_bytes: u16,
    /// Where the data chunk's length field stands.
    length_at: u64,
    /// What it says.
    declared_bytes: u32,
    /// Bytes from the data's start to the file's end.
    present_bytes: u64,
    /// The RIFF length field agrees with the file's length (one byte of padding allowed).
    riff_agrees: bool,
    /// The bytes right after the declared data look like a chunk, or the file's end.
    follows_chunk: bool,
}

impl WavHeader {
    /// Reads chunk headers up to the data; `None` if this is no WAV file or the chunks lead nowhere.
    pub(crate) fn read(file: &mut File, file_len: u64) -> io::Result<Option<Self>> {
        file.seek(SeekFrom::Start(0))?;
        let mut head = [0u8; 12];
        if read_up_to(file, &mut head)? < 12 || &head[..4] != b"RIFF" || &head[8..] != b"WAVE" {
            return Ok(None);
        }
        let riff_len = u64::from(u32::from_le_bytes([head[4], head[5], head[6], head[7]]));
        let mut format = None;
        let mut at = 12u64;
        // Recorders write a handful of chunks before the data; a thousand is damage.
        for _ in 0..1000 {
            file.seek(SeekFrom::Start(at))?;
            let mut chunk = [0u8; 8];
            if read_up_to(file, &mut chunk)? < 8 {
                return Ok(None);
            }
            let len = u32::from_le_bytes([chunk[4], chunk[5], chunk[6], chunk[7]]);
            match &chunk[..4] {
                b"fmt " => {
                    let mut f = [0u8; 16];
                    if read_up_to(file, &mut f)? < 16 {
                        return Ok(None);
                    }
                    let channels = u16::from_le_bytes([f[2], f[3]]);
                    format = Some((
                        channels,
                        u32::from_le_bytes([f[4], f[5], f[6], f[7]]),
                        u16::from_le_bytes([f[12], f[13]]),
                    ));
                }
                b"data" => {
                    let Some((channels, rate_hz, frame_bytes)) = format else { return Ok(None) };
                    return Ok(Some(Self {
                        channels,
                        rate_hz,
                        frame_bytes,
                        length_at: at + 4,
                        declared_bytes: len,
                        present_bytes: file_len.saturating_sub(at + 8),
                        riff_agrees: riff_len + 8 == file_len || riff_len + 9 == file_len,
                        follows_chunk: follows_chunk(file, at + 8 + u64::from(len), file_len)?,
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
    pub(crate) fn declared_bytes_zero(&self) -> bool {
        self.declared_bytes == 0
    }

    /// Whole frames that the header promises; `None` where it does not know.
    pub(crate) fn declared_frames(&self) -> Option<u64> {
        let frame = u64::from(self.frame_bytes);
        (frame > 0 && !self.length_unknown()).then(|| u64::from(self.declared_bytes) / frame)
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
        let declared = u64::from(self.declared_bytes);
        let mut bytes = if self.length_unknown() { self.present_bytes } else { declared.min(self.present_bytes) };
        bytes -= bytes % u64::from(self.frame_bytes.max(1));
        match u32::try_from(bytes) {
            Ok(b) if b != self.declared_bytes || !self.riff_agrees => {
                vec![(4, u32::MAX.to_le_bytes()), (self.length_at, b.to_le_bytes())]
            }
            _ => Vec::new(),
        }
    }
}

/// True at the file's end (a pad byte allowed) and before four printable bytes that can name a chunk.
fn follows_chunk(file: &mut File, at: u64, file_len: u64) -> io::Result<bool> {
    if at + 1 >= file_len {
        return Ok(true);
    }
    for pad in [0, at % 2] {
        file.seek(SeekFrom::Start(at + pad))?;
        let mut id = [0u8; 8];
        if read_up_to(file, &mut id)? == 8
            && id[..4].iter().all(|b| b.is_ascii_alphanumeric() || b" _-".contains(b))
            && at + pad + 8 + u64::from(u32::from_le_bytes([id[4], id[5], id[6], id[7]])) <= file_len
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
    pub(crate) fn new(mut file: File, len: u64, header: Option<&WavHeader>) -> io::Result<Self> {
        file.seek(SeekFrom::Start(0))?;
        Ok(Self { file, at: 0, len, patches: header.map(WavHeader::patches).unwrap_or_default() })
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
