//! Whether a file that another program writes is complete.

use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::time::{Duration, Instant, SystemTime};
use takegauge_audio::{ChannelChoice, TakeReader};

/// Size and time must stand still for so long.
const SETTLED: Duration = Duration::from_millis(700);
/// A header that states no length is believed after the file stood still for so long.
const PATIENCE: Duration = Duration::from_secs(10);

/// A file as last looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Seen {
    pub(super) size: u64,
    pub(super) modified: Option<SystemTime>,
}

impl Seen {
    pub(super) fn of(path: &Path) -> Option<Self> {
        let m = std::fs::metadata(path).ok()?;
        m.is_file().then(|| Self { size: m.len(), modified: m.modified().ok() })
    }
}

/// A file that is waited for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Waiting {
    seen: Seen,
    since: Instant,
}

impl Waiting {
    pub(super) fn new(seen: Seen) -> Self {
        Self { seen, since: Instant::now() }
    }

    /// Looks again; whether the file is complete by now.
    pub(super) fn look(&mut self, path: &Path, seen: Seen) -> bool {
        if seen != self.seen {
            *self = Self::new(seen);
            return false;
        }
        let still = self.since.elapsed();
        if still < SETTLED || seen.size == 0 {
            return false;
        }
        let whole = match stated_length(path) {
            Stated::Bytes(n) => seen.size >= n,
            Stated::NotYet => still >= PATIENCE,
            Stated::Nothing => true,
        };
        // A header cut off, or a lock of the writer: looked at again until it opens, or for long enough to be told why.
        whole && (still >= PATIENCE || TakeReader::open(path, ChannelChoice::Auto).is_ok())
    }
}

/// What a file's header says of its length.
#[derive(Debug, PartialEq, Eq)]
enum Stated {
    /// So many bytes at least.
    Bytes(u64),
    /// Room for a length that is not filled in yet.
    NotYet,
    /// This kind of file does not say.
    Nothing,
}

/// RIFF/WAVE (Multimedia Programming Interface 1.0, IBM and Microsoft 1991) and AIFF (Apple 1989) state their length in
/// bytes 4 to 7, itself and the 4 bytes before it not counted; writers that stream leave 0 or all ones there.
fn stated_length(path: &Path) -> Stated {
    let mut head = [0u8; 8];
    if File::open(path).and_then(|mut f| f.read_exact(&mut head)).is_err() {
        return Stated::NotYet;
    }
    let word = [head[4], head[5], head[6], head[7]];
    let length = match &head[..4] {
        b"RIFF" => u32::from_le_bytes(word),
        b"FORM" => u32::from_be_bytes(word),
        b"\0\0\0\0" => return Stated::NotYet,
        _ => return Stated::Nothing,
    };
    match length {
        0 | u32::MAX => Stated::NotYet,
        n => Stated::Bytes(u64::from(n) + 8),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_header_says_how_much_is_to_come() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a");
        let says = |bytes: &[u8]| {
            std::fs::write(&path, bytes).unwrap();
            stated_length(&path)
        };
        assert_eq!(says(b"RIFF\x24\x00\x00\x00WAVE"), Stated::Bytes(44));
        assert_eq!(says(b"FORM\x00\x00\x00\x2eAIFF"), Stated::Bytes(54));
        assert_eq!(says(b"RIFF\0\0\0\0WAVE"), Stated::NotYet);
        assert_eq!(says(b"RIF"), Stated::NotYet);
        assert_eq!(says(b"fLaC\0\0\0\x22"), Stated::Nothing);
    }
}
