//! WAV files past 4 GiB, whose lengths are 64 bits wide, read and written.
//!
//! RF64 and BW64: EBU Tech 3306 (2009), ITU-R BS.2088: RIFF whose 32-bit lengths are all ones and stand in a `ds64`
//! chunk. W64: RIFF with GUIDs for names and 64-bit lengths that count their own 24-byte head, chunks on multiples of 8;
//! its layout is from memory. The demuxer knows neither, but it knows CAF (Apple, Core Audio Format Specification 1.0),
//! which is a head of 68 bytes before the same samples: the file is shown to it as one.

use crate::sniff::read_up_to;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use symphonia::core::io::MediaSource;
use takegauge_units::SampleRate;

/// GUIDs after their first four bytes: of the whole file, and of every chunk in it.
const W64_RIFF: &[u8; 16] = b"riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00";
const W64_REST: &[u8; 12] = b"\xf3\xac\xd3\x11\x8c\xd1\x00\xc0\x4f\x8e\xdb\x8a";

/// What a long WAV file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct LongWav {
    pub(crate) channels: u16,
    pub(crate) rate_hz: u32,
    float: bool,
    bits: u16,
    frame_bytes: u16,
    data_at: u64,
    /// As the file states it.
    declared_bytes: u64,
    /// Whole frames that are there.
    usable_bytes: u64,
}

/// Why a long WAV file is not read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unread {
    /// It is no such file.
    Other,
    /// Its chunks lead nowhere.
    Cut,
    /// Its samples are coded in another way than plain numbers of 16, 24, 32 or 64 bits.
    Coding,
}

impl LongWav {
    /// Reads the head of a file of `len` bytes.
    pub(crate) fn read(file: &mut File, len: u64) -> io::Result<Result<Self, Unread>> {
        file.seek(SeekFrom::Start(0))?;
        let mut head = [0u8; 40];
        let n = read_up_to(file, &mut head)?;
        let wave = &head[8..12] == b"WAVE";
        let chunks = match &head[..4] {
            _ if n < 40 => return Ok(Err(Unread::Other)),
            b"RF64" | b"BW64" if wave => Chunks { wide: false, at: 12, data_bytes: None },
            // A plain WAV file that went on past what its length can say.
            b"RIFF" if wave && len > u64::from(u32::MAX) => Chunks { wide: false, at: 12, data_bytes: None },
            b"riff" if head[..16] == *W64_RIFF => Chunks { wide: true, at: 40, data_bytes: None },
            _ => return Ok(Err(Unread::Other)),
        };
        let plain = &head[..4] == b"RIFF";
        chunks.find(file, len, plain)
    }

    /// Seconds that the file promises beyond those that are there.
    pub(crate) fn promised(&self, frames: u64) -> u64 {
        let more = self.declared_bytes.saturating_sub(self.usable_bytes) / u64::from(self.frame_bytes.max(1));
        frames.saturating_add(more)
    }

    /// The same samples behind the head of a CAF file.
    pub(crate) fn as_caf(&self) -> Vec<u8> {
        let mut caf = b"caff\x00\x01\x00\x00desc".to_vec();
        caf.extend(32i64.to_be_bytes());
        caf.extend(f64::from(self.rate_hz).to_be_bytes());
        caf.extend(b"lpcm");
        for field in
            [2 | u32::from(self.float), u32::from(self.frame_bytes), 1, u32::from(self.channels), u32::from(self.bits)]
        {
            caf.extend(field.to_be_bytes());
        }
        caf.extend(b"data");
        caf.extend((self.usable_bytes + 4).to_be_bytes());
        caf.extend(0u32.to_be_bytes());
        caf
    }
}

struct Chunks {
    wide: bool,
    at: u64,
    /// From `ds64`.
    data_bytes: Option<u64>,
}

impl Chunks {
    fn find(mut self, file: &mut File, len: u64, plain: bool) -> io::Result<Result<LongWav, Unread>> {
        let mut format = None;
        for _ in 0..1000 {
            let Some((name, size, body)) = self.next(file)? else { return Ok(Err(Unread::Cut)) };
            match &name {
                b"ds64" => {
                    let mut sizes = [0u8; 16];
                    if read_up_to(file, &mut sizes)? == 16 {
                        self.data_bytes = Some(u64::from_le_bytes(eight(&sizes[8..])));
                    }
                }
                b"fmt " => {
                    let mut f = [0u8; 26];
                    if read_up_to(file, &mut f)? < 26 {
                        return Ok(Err(Unread::Cut));
                    }
                    let Some(read) = Format::read(&f) else { return Ok(Err(Unread::Coding)) };
                    format = Some(read);
                }
                b"data" => {
                    let Some(f) = format else { return Ok(Err(Unread::Cut)) };
                    let present = len.saturating_sub(body);
                    let unknown = !self.wide && size == u64::from(u32::MAX);
                    let declared = match self.data_bytes.filter(|_| unknown) {
                        // A recorder that crashed left the length at nothing, or never wrote it.
                        Some(n) if n > 0 => n,
                        // Past 4 GiB a 32-bit length says nothing, whatever it holds.
                        _ if unknown || plain || size == 0 => present,
                        _ => size,
                    };
                    let usable = declared.min(present);
                    return Ok(Ok(LongWav {
                        channels: f.channels,
                        rate_hz: f.rate_hz,
                        float: f.float,
                        bits: f.bits,
                        frame_bytes: f.frame_bytes,
                        data_at: body,
                        declared_bytes: declared,
                        usable_bytes: usable - usable % u64::from(f.frame_bytes.max(1)),
                    }));
                }
                _ => {}
            }
            let ends = body.saturating_add(size);
            self.at = if self.wide {
                ends.checked_next_multiple_of(8).unwrap_or(u64::MAX)
            } else {
                ends.saturating_add(size % 2)
            };
        }
        Ok(Err(Unread::Cut))
    }

    /// Name, length of the body and its place; the file stands there. `None` at the end.
    fn next(&self, file: &mut File) -> io::Result<Option<([u8; 4], u64, u64)>> {
        if self.at > i64::MAX as u64 - 64 {
            return Ok(None);
        }
        file.seek(SeekFrom::Start(self.at))?;
        let mut head = [0u8; 24];
        let wanted = if self.wide { 24 } else { 8 };
        if read_up_to(file, &mut head[..wanted])? < wanted {
            return Ok(None);
        }
        let name = [head[0], head[1], head[2], head[3]];
        if !self.wide {
            let size = u32::from_le_bytes([head[4], head[5], head[6], head[7]]);
            return Ok(Some((name, u64::from(size), self.at + 8)));
        }
        let size = u64::from_le_bytes(eight(&head[16..])).saturating_sub(24);
        // Another GUID is another chunk, whatever its first bytes spell.
        let name = if head[4..16] == *W64_REST { name } else { [0; 4] };
        Ok(Some((name, size, self.at + 24)))
    }
}

struct Format {
    channels: u16,
    rate_hz: u32,
    float: bool,
    bits: u16,
    frame_bytes: u16,
}

impl Format {
    /// Plain numbers that fill their bytes; `None` for any other coding.
    fn read(f: &[u8; 26]) -> Option<Self> {
        let word = |at: usize| u16::from_le_bytes([f[at], f[at + 1]]);
        // WAVE_FORMAT_EXTENSIBLE states the coding in the first two bytes of its GUID.
        let coding = if word(0) == 0xfffe { word(24) } else { word(0) };
        let (channels, frame_bytes) = (word(2), word(12));
        let bits = (frame_bytes.checked_div(channels)?).checked_mul(8)?;
        let float = coding == 3;
        let known = matches!((coding, bits), (1, 16 | 24 | 32) | (3, 32 | 64)) && frame_bytes == channels * (bits / 8);
        let rate_hz = u32::from_le_bytes([f[4], f[5], f[6], f[7]]);
        (known && channels > 0).then_some(Self { channels, rate_hz, float, bits, frame_bytes })
    }
}

fn eight(bytes: &[u8]) -> [u8; 8] {
    bytes.get(..8).and_then(|b| b.try_into().ok()).unwrap_or_default()
}

/// A stretch of a file behind another head.
pub(crate) struct Recast {
    head: Vec<u8>,
    file: File,
    from: u64,
    len: u64,
    at: u64,
}

impl Recast {
    pub(crate) fn new(file: File, wav: &LongWav) -> Self {
        let head = wav.as_caf();
        let len = head.len() as u64 + wav.usable_bytes;
        Self { head, file, from: wav.data_at, len, at: 0 }
    }
}

impl Read for Recast {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let head = self.head.len() as u64;
        let n = if self.at < head {
            let rest = &self.head[self.at as usize..];
            let n = rest.len().min(buf.len());
            buf[..n].copy_from_slice(&rest[..n]);
            n
        } else {
            let room = self.len.saturating_sub(self.at).min(buf.len() as u64) as usize;
            self.file.seek(SeekFrom::Start(self.from + (self.at - head)))?;
            self.file.read(&mut buf[..room])?
        };
        self.at += n as u64;
        Ok(n)
    }
}

impl Seek for Recast {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let at = match to {
            SeekFrom::Start(n) => Some(n),
            SeekFrom::End(n) => self.len.checked_add_signed(n),
            SeekFrom::Current(n) => self.at.checked_add_signed(n),
        };
        self.at = at.ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "a place before the file"))?;
        Ok(self.at)
    }
}

impl MediaSource for Recast {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.len)
    }
}

/// Bytes of [`write_head`]: where the samples begin.
const HEAD: u64 = 80;

/// Writes the head of an RF64 file; the lengths are filled in by [`close`].
pub(crate) fn write_head(
    out: &mut impl Write,
    rate: SampleRate,
    channels: u16,
    bits: u16,
    float: bool,
) -> io::Result<()> {
    let frame = u32::from(channels) * u32::from(bits / 8);
    let frame_bytes = u16::try_from(frame).map_err(|_| io::Error::new(io::ErrorKind::InvalidInput, "channels"))?;
    out.write_all(b"RF64\xff\xff\xff\xffWAVEds64\x1c\x00\x00\x00")?;
    out.write_all(&[0; 28])?;
    out.write_all(b"fmt \x10\x00\x00\x00")?;
    out.write_all(&if float { 3u16 } else { 1 }.to_le_bytes())?;
    out.write_all(&channels.to_le_bytes())?;
    out.write_all(&rate.hz().to_le_bytes())?;
    out.write_all(&rate.hz().saturating_mul(frame).to_le_bytes())?;
    out.write_all(&frame_bytes.to_le_bytes())?;
    out.write_all(&bits.to_le_bytes())?;
    out.write_all(b"data\xff\xff\xff\xff")
}

/// Fills in the lengths of a file whose samples are written; `frame_bytes` bytes are a frame.
pub(crate) fn close(out: &mut (impl Write + Seek), frame_bytes: u64) -> io::Result<()> {
    let end = out.seek(SeekFrom::End(0))?;
    let data = end.saturating_sub(HEAD);
    if data % frame_bytes.max(1) != 0 {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "the last frame is not whole"));
    }
    if data % 2 == 1 {
        out.write_all(&[0])?;
    }
    write_sizes(out, data, data / frame_bytes.max(1))
}

fn write_sizes(out: &mut (impl Write + Seek), data: u64, frames: u64) -> io::Result<()> {
    let end = out.seek(SeekFrom::End(0))?;
    out.seek(SeekFrom::Start(20))?;
    for size in [end - 8, data, frames] {
        out.write_all(&size.to_le_bytes())?;
    }
    out.seek(SeekFrom::End(0))?;
    out.flush()
}

/// Mends the length of an RF64 file to which chunks were added; false for any other file.
pub(crate) fn lengthen(file: &mut (impl Read + Write + Seek)) -> io::Result<bool> {
    let end = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(0))?;
    let mut mark = [0u8; 4];
    if read_up_to(file, &mut mark)? < 4 || &mark != b"RF64" {
        return Ok(false);
    }
    file.seek(SeekFrom::Start(20))?;
    file.write_all(&(end - 8).to_le_bytes())?;
    file.flush()?;
    Ok(true)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sparse file: what stands behind 4 GiB is found there.
    #[test]
    fn places_past_4_gib_are_reached() {
        let mut file = tempfile::tempfile().unwrap();
        write_head(&mut file, SampleRate::new(48_000).unwrap(), 2, 16, false).unwrap();
        let data = 5u64 << 30;
        file.set_len(HEAD + data).unwrap();
        file.seek(SeekFrom::Start(HEAD + data - 4)).unwrap();
        file.write_all(&[1, 2, 3, 4]).unwrap();
        close(&mut file, 4).unwrap();
        let wav = LongWav::read(&mut file, HEAD + data).unwrap().unwrap();
        assert_eq!((wav.usable_bytes, wav.declared_bytes, wav.promised(7)), (data, data, 7));
        let mut recast = Recast::new(file, &wav);
        assert_eq!(recast.seek(SeekFrom::End(-4)).unwrap(), 68 + data - 4);
        let mut four = [0; 4];
        assert_eq!((read_up_to(&mut recast, &mut four).unwrap(), four), (4, [1, 2, 3, 4]));
        assert_eq!(recast.read(&mut four).unwrap(), 0);
        recast.rewind().unwrap();
        assert_eq!((read_up_to(&mut recast, &mut four).unwrap(), &four), (4, b"caff"));
    }
}
