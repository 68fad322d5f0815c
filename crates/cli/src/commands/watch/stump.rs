//! A take that was kept from a recording which was not whole yet, and how it is known again in the whole one.

use std::fs::File;
use std::hash::{DefaultHasher, Hasher};
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

/// Heads are written anew when a recording is closed; what follows them stays.
const HEAD: u64 = 512;

/// A recording as it was when its take was kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Stump {
    /// The take's number.
    pub(super) take: i64,
    size: u64,
    body: u64,
}

impl Stump {
    /// `None` where the file cannot be read.
    pub(super) fn of(path: &Path, take: i64) -> Option<Self> {
        let size = std::fs::metadata(path).ok()?.len();
        Some(Self { take, size, body: body(path, size)? })
    }

    /// Whether the file holds the same recording, and more of it.
    pub(super) fn has_grown(&self, path: &Path) -> bool {
        let size = std::fs::metadata(path).map_or(0, |m| m.len());
        self.size > HEAD && size > self.size && body(path, self.size) == Some(self.body)
    }
}

/// A sum over the bytes behind the head, up to `size`.
fn body(path: &Path, size: u64) -> Option<u64> {
    let mut file = File::open(path).ok()?;
    file.seek(SeekFrom::Start(HEAD)).ok()?;
    let mut rest = file.take(size.saturating_sub(HEAD));
    let (mut sum, mut block) = (DefaultHasher::new(), vec![0u8; 1 << 16]);
    loop {
        match rest.read(&mut block).ok()? {
            0 => return Some(sum.finish()),
            n => sum.write(&block[..n]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_recording_that_grew_is_told_from_another_one_under_its_name() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.flac");
        let bytes: Vec<u8> = (0..9000u32).map(|k| ((k * k) >> 3) as u8).collect();
        std::fs::write(&path, &bytes[..4000]).unwrap();
        let stump = Stump::of(&path, 7).unwrap();
        assert!(!stump.has_grown(&path));
        let mut whole = bytes.clone();
        whole[..42].fill(9);
        std::fs::write(&path, &whole).unwrap();
        assert!(stump.has_grown(&path));
        whole[2000] ^= 1;
        std::fs::write(&path, &whole).unwrap();
        assert!(!stump.has_grown(&path));
        std::fs::remove_file(&path).unwrap();
        assert!(!stump.has_grown(&path) && Stump::of(&path, 7).is_none());
    }
}
