//! Whether a file that another program writes is complete.

use std::cell::OnceCell;
use std::collections::HashSet;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime};
use takegauge_audio::{ChannelChoice, TakeReader};

/// Size and time must stand still for so long.
const SETTLED: Duration = Duration::from_millis(700);
/// A file that does not say itself that it is whole is believed after it stood still for so long, with nobody writing.
const PATIENCE: Duration = Duration::from_secs(10);
/// Some programs never let go of a file: after so long it is believed all the same.
const LONG_PATIENCE: Duration = Duration::from_secs(60);

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
    /// What the file says of itself, once it was asked as it stands now.
    whole: Option<Whole>,
}

/// What a file says of itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Whole {
    /// Everything it announces is there.
    Yes,
    /// Something it announces is missing, or it cannot be opened yet.
    No,
    /// This kind of file, or this writer, announces nothing.
    Unsaid,
}

impl Waiting {
    pub(super) fn new(seen: Seen) -> Self {
        Self { seen, since: Instant::now(), whole: None }
    }

    /// Looks again; whether the file is complete by now.
    pub(super) fn look(&mut self, path: &Path, seen: Seen, writers: &Writers) -> bool {
        if seen != self.seen {
            *self = Self::new(seen);
            return false;
        }
        let still = self.since.elapsed();
        if still < SETTLED || seen.size == 0 {
            return false;
        }
        let whole = *self.whole.get_or_insert_with(|| whole(path, seen.size));
        match whole {
            Whole::Yes => still >= PATIENCE || !writers.include(path),
            Whole::No | Whole::Unsaid => still >= LONG_PATIENCE || (still >= PATIENCE && !writers.include(path)),
        }
    }
}

/// Asks the container, and reads the file through where only its sound can tell.
fn whole(path: &Path, size: u64) -> Whole {
    match stated_length(path) {
        Stated::Bytes(n) if size >= n => {
            if TakeReader::open(path, ChannelChoice::Left).is_ok() {
                Whole::Yes
            } else {
                Whole::No
            }
        }
        Stated::Bytes(_) | Stated::NotYet => Whole::No,
        Stated::Nothing => read_through(path).unwrap_or(Whole::No),
    }
}

/// `None` where it cannot be read.
fn read_through(path: &Path) -> Option<Whole> {
    let mut reader = TakeReader::open(path, ChannelChoice::Left).ok()?;
    while reader.next_block().ok()?.is_some() {}
    Some(match reader.finish().complete {
        Some(true) => Whole::Yes,
        Some(false) => Whole::No,
        None => Whole::Unsaid,
    })
}

/// The files that some other program has open for writing, as far as the system tells; looked up when first asked for.
#[derive(Default)]
pub(super) struct Writers(OnceCell<HashSet<PathBuf>>);

impl Writers {
    fn include(&self, path: &Path) -> bool {
        path.canonicalize().is_ok_and(|path| self.0.get_or_init(open_for_writing).contains(&path))
    }
}

/// Linux lists what each process has open (proc(5)); elsewhere nothing is known.
fn open_for_writing() -> HashSet<PathBuf> {
    let own = std::process::id().to_string();
    let entries = |folder: &Path| std::fs::read_dir(folder).into_iter().flatten().filter_map(Result::ok);
    let mut open = HashSet::new();
    for process in entries(Path::new("/proc")) {
        let name = process.file_name();
        let number = name.to_string_lossy();
        if number == own || !number.bytes().all(|b| b.is_ascii_digit()) {
            continue;
        }
        for file in entries(&process.path().join("fd")) {
            let Ok(path) = std::fs::read_link(file.path()) else { continue };
            let info = process.path().join("fdinfo").join(file.file_name());
            if path.is_absolute() && std::fs::read_to_string(info).is_ok_and(|text| writes(&text)) {
                open.insert(path);
            }
        }
    }
    open
}

/// The access mode in the last octal digit of `flags`: 0 reads, 1 and 2 write (open(2)).
fn writes(info: &str) -> bool {
    let flags = info.lines().find_map(|l| l.strip_prefix("flags:")).unwrap_or_default();
    matches!(flags.trim().bytes().last(), Some(b'1' | b'2' | b'5' | b'6'))
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
/// bytes 4 to 7, itself and the 4 bytes before it not counted; writers that stream leave 0 or all ones there. RF64 and
/// BW64 state it in a `ds64` chunk (EBU Tech 3306), W64 in bytes 16 to 23.
fn stated_length(path: &Path) -> Stated {
    let mut head = [0u8; 28];
    let read = File::open(path).and_then(|f| f.take(28).read(&mut head));
    let Ok(8..) = read else { return Stated::NotYet };
    let word = |at: usize| [head[at], head[at + 1], head[at + 2], head[at + 3]];
    let long = |at: usize| u64::from(u32::from_le_bytes(word(at))) | u64::from(u32::from_le_bytes(word(at + 4))) << 32;
    let length = match &head[..4] {
        b"RIFF" => u32::from_le_bytes(word(4)),
        b"FORM" => u32::from_be_bytes(word(4)),
        b"RF64" | b"BW64" => match long(20) {
            0 | u64::MAX => return Stated::NotYet,
            n => return Stated::Bytes(n.saturating_add(8)),
        },
        b"riff" => match long(16) {
            0 | u64::MAX => return Stated::NotYet,
            n => return Stated::Bytes(n),
        },
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
        let long = |mark: &[u8], size: u64| [mark, &size.to_le_bytes(), &[0; 8]].concat();
        assert_eq!(says(&long(b"RF64\xff\xff\xff\xffWAVEds64\x1c\0\0\0", 1 << 33)), Stated::Bytes((1 << 33) + 8));
        assert_eq!(says(&long(b"riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\0\0", 1 << 33)), Stated::Bytes(1 << 33));
        assert_eq!(says(&long(b"RF64\xff\xff\xff\xffWAVEds64\x1c\0\0\0", 0)), Stated::NotYet);
    }

    #[test]
    fn who_writes_is_told_from_who_reads() {
        assert!(writes("pos:\t0\nflags:\t0100001\nmnt_id:\t29\n") && writes("flags:\t02100002\n"));
        assert!(!writes("pos:\t0\nflags:\t0100000\n") && !writes(""));
    }
}
