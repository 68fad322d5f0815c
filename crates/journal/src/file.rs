//! The file itself: whose it is, whether it may be written, and whether it is still the one that was opened.
//!
//! - What is not a journal is looked at without a lock, a log or a byte written, and left as it is.
//! - A path is only a name. If the file behind it is moved, deleted or replaced, SQLite writes on into what nobody will
//!   find again; so the name is looked up before each change and once more before it is told as done.
//! - A log (`-wal`) left by a crash holds the newest takes, and must be read with its own file. Put beside another one,
//!   say a copy that was laid over the journal, it would be mixed into it; so after a crash both are tried on a copy.

use crate::error::{JournalError, Result};
use crate::schema::APPLICATION_ID;
use rusqlite::{Connection, OpenFlags};
use std::fs::Metadata;
use std::path::{Path, PathBuf};

/// A file as the system knows it, whatever its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Identity {
    #[cfg(unix)]
    at: (u64, u64),
    /// Windows lets nobody move, delete or replace a file that SQLite has open: that it is there is all that can change.
    #[cfg(not(unix))]
    at: (),
}

impl Identity {
    #[cfg(unix)]
    fn of(meta: &Metadata) -> Self {
        use std::os::unix::fs::MetadataExt;
        Self { at: (meta.dev(), meta.ino()) }
    }

    #[cfg(not(unix))]
    fn of(_: &Metadata) -> Self {
        Self { at: () }
    }

    /// Of what the path names now.
    pub(crate) fn at(path: &Path) -> Option<Self> {
        std::fs::metadata(path).ok().map(|m| Self::of(&m))
    }
}

/// A name beside the journal: its log ("-wal") or the log's index ("-shm").
pub(crate) fn companion(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

/// Looks at a file that may be anybody's, without touching it or what lies beside it.
///
/// # Errors
/// [`JournalError::Damaged`] where it is no SQLite file or another program's.
pub(crate) fn peek(path: &Path) -> Result<()> {
    let Ok(meta) = std::fs::metadata(path) else { return Ok(()) };
    if meta.len() == 0 || marked(path)? {
        return Ok(());
    }
    // A journal whose first commit is still in its log has neither number nor table.
    let ours = match numbers(unlocked(path)?) {
        // Of a crash while the log was worked in, or while the file was made: its pages are of two times, and only with what
        // lies beside it is it whole.
        Err(_) if has_log(path) || companion(path, "-journal").exists() => {
            let (_folder, copy) = temporary_copy(path, true)?;
            Connection::open(&copy).and_then(numbers)
        }
        read => read,
    };
    match ours.map_err(|e| JournalError::sql(path, &e))? {
        (APPLICATION_ID, _) | (0, 0) => Ok(()),
        _ => {
            let why = "it is a database of another program, not a journal; it was not changed".to_owned();
            Err(JournalError::Damaged { path: path.to_path_buf(), why })
        }
    }
}

/// Whether the file's own header says that it is a journal. The header's first 100 bytes are one sector, which is old or
/// new but never torn; SQLite itself reads no file whose header already tells the size that the log will bring it to.
fn marked(path: &Path) -> Result<bool> {
    use std::io::Read;
    let mut header = Vec::new();
    let read = std::fs::File::open(path).and_then(|f| f.take(100).read_to_end(&mut header));
    read.map_err(|e| JournalError::Open { path: path.to_path_buf(), why: e.to_string() })?;
    // SQLite's file format, section 1.3: the magic string, and the "Application ID" at 68.
    Ok(header.starts_with(b"SQLite format 3\0") && header.get(68..72) == Some(&APPLICATION_ID.to_be_bytes()[4..]))
}

/// The database's number and how many tables it has.
fn numbers(db: Connection) -> rusqlite::Result<(i64, i64)> {
    let id = db.pragma_query_value(None, "application_id", |r| r.get(0))?;
    Ok((id, db.query_row("SELECT count(*) FROM sqlite_schema", [], |r| r.get(0))?))
}

/// Whether a log lies beside the file that holds anything.
pub(crate) fn has_log(path: &Path) -> bool {
    std::fs::metadata(companion(path, "-wal")).is_ok_and(|m| m.len() > 0)
}

/// The file as it lies, read without locks, log or index.
pub(crate) fn unlocked(path: &Path) -> Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let full = std::path::absolute(path).map_err(|e| JournalError::Open { path: path.into(), why: e.to_string() })?;
    let text = full.to_str().ok_or_else(|| JournalError::Open {
        path: path.into(),
        why: "its name is not UTF-8, which SQLite wants".to_owned(),
    })?;
    // RFC 3986: what may not stand in a path is written in hexadecimal.
    let escaped: String = text
        .bytes()
        .map(|b| match b {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' => char::from(b).to_string(),
            other => format!("%{other:02x}"),
        })
        .collect();
    Connection::open_with_flags(format!("file:{escaped}?immutable=1"), flags).map_err(|e| JournalError::sql(path, &e))
}

/// Refuses a log that a crash left if the journal is whole without it and not with it: it belongs to another file.
///
/// # Errors
/// [`JournalError::StrayLog`]; [`JournalError::File`] where no copy can be made.
pub(crate) fn log_belongs(path: &Path) -> Result<()> {
    // While another program has the journal open, its index lies beside it and the log is in use.
    let left = has_log(path) && !in_use(path);
    if !left || whole(path, true)? || !whole(path, false)? {
        return Ok(());
    }
    Err(JournalError::StrayLog { path: path.to_path_buf(), log: companion(path, "-wal") })
}

/// Whether somebody has the file open: only then a second connection cannot have it to itself.
fn in_use(path: &Path) -> bool {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let alone = || -> rusqlite::Result<()> {
        // Whatever the log does to what is read here, nothing is written.
        let db = Connection::open_with_flags(path, flags)?;
        db.busy_timeout(std::time::Duration::ZERO)?;
        db.set_db_config(rusqlite::config::DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
        db.execute_batch("PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE; ROLLBACK;")
    };
    alone().is_err_and(|e| {
        matches!(e.sqlite_error_code(), Some(rusqlite::ErrorCode::DatabaseBusy | rusqlite::ErrorCode::DatabaseLocked))
    })
}

/// Whether a copy of the file, with its log or without, passes SQLite's own check.
pub(crate) fn whole(path: &Path, with_log: bool) -> Result<bool> {
    let (_folder, copy) = temporary_copy(path, with_log)?;
    let read = || -> rusqlite::Result<bool> {
        let db = Connection::open(&copy)?;
        let mut query = db.prepare("PRAGMA integrity_check(1)")?;
        let found: Vec<String> = query.query_map([], |r| r.get(0))?.collect::<rusqlite::Result<_>>()?;
        if found != ["ok"] {
            return Ok(false);
        }
        // Pages of two times may fit each other as pages and still tear a take.
        let mut query = db.prepare("SELECT id FROM take")?;
        let takes: Vec<i64> = query.query_map([], |r| r.get(0))?.collect::<rusqlite::Result<_>>()?;
        Ok(takes.into_iter().all(|take| crate::seal::holds(&db, take) != Some(false)))
    };
    Ok(read().unwrap_or(false))
}

/// A copy in a folder that goes with what is returned.
fn temporary_copy(path: &Path, with_log: bool) -> Result<(tempfile::TempDir, PathBuf)> {
    let folder = tempfile::tempdir().map_err(|source| JournalError::File { path: path.to_path_buf(), source })?;
    let copy = folder.path().join("journal.db");
    copy_with(path, &copy, with_log)?;
    Ok((folder, copy))
}

/// Copies the file, and its log where that is wanted and there. A journal that is being made, or made one file, has a
/// rollback journal for a moment instead of a log.
pub(crate) fn copy_with(path: &Path, copy: &Path, with_log: bool) -> Result<()> {
    for end in ["", "-wal", "-journal"] {
        let from = companion(path, end);
        if end.is_empty() || (with_log && from.is_file()) {
            std::fs::copy(&from, companion(copy, end))
                .map_err(|source| JournalError::File { path: from.clone(), source })?;
        }
    }
    Ok(())
}

/// Puts a file's bytes, or a folder's list of names, on the disk.
pub(crate) fn sync(path: &Path) -> std::io::Result<()> {
    std::fs::File::open(path)?.sync_all()
}

/// The folder that holds a file.
pub(crate) fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// The name under which a file is made before it is complete.
pub(crate) fn part_of(to: &Path) -> PathBuf {
    let mut name = to.as_os_str().to_owned();
    name.push(format!(".{}.part", std::process::id()));
    PathBuf::from(name)
}
