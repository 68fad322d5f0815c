//! Putting a copy in the journal's place.

use crate::error::{JournalError, Result};
use crate::file::{companion, copy_with, folder_of, has_log, part_of, sync, whole};
use crate::journal::Journal;
use crate::model::Filter;
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// What [`restore`] did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// Takes in the journal now.
    pub takes: usize,
    /// Where the former journal lies, with its log if it had one; `None` where there was none.
    pub before: Option<PathBuf>,
}

/// Puts a copy of `backup` in the place of the journal at `path`. The copy is checked first, with the log that lies
/// beside it if there is one; the former journal and its log are kept beside it under a name of their own. `backup`
/// itself is not changed.
///
/// # Errors
/// [`JournalError::Missing`] where there is no backup; [`JournalError::Damaged`] where it is no whole journal;
/// [`JournalError::Busy`] where another program has the journal open; [`JournalError::File`]. The journal is then as it was.
pub fn restore(backup: &Path, path: &Path) -> Result<Restored> {
    if !backup.is_file() {
        return Err(JournalError::Missing { path: backup.to_path_buf() });
    }
    let file = |path: &Path| {
        let path = path.to_path_buf();
        move |source| JournalError::File { path, source }
    };
    std::fs::create_dir_all(folder_of(path)).map_err(file(path))?;
    let part = part_of(path);
    let clean = || {
        for end in ["", "-wal", "-shm", "-journal"] {
            let _ = std::fs::remove_file(companion(&part, end));
        }
    };
    let done = (|| {
        let takes = checked_copy(backup, &part)?;
        let lock = alone(path)?;
        let before = set_aside(path).map_err(file(path))?;
        // The one step from the former journal to the new one: a loss of power leaves either.
        if let Err(source) = std::fs::rename(&part, path) {
            if let Some(before) = &before {
                put_back(before, path);
            }
            return Err(JournalError::File { path: path.to_path_buf(), source });
        }
        let _ = sync(folder_of(path));
        drop(lock);
        Ok(Restored { takes, before })
    })();
    clean();
    done
}

/// Copies the backup, with its log, into one whole file; how many takes it holds.
fn checked_copy(backup: &Path, part: &Path) -> Result<usize> {
    copy_with(backup, part, true)?;
    let named = |e: JournalError| match e {
        JournalError::Damaged { why, .. } => JournalError::Damaged { path: backup.to_path_buf(), why },
        JournalError::TooNew { found, known, .. } => JournalError::TooNew { path: backup.to_path_buf(), found, known },
        JournalError::StrayLog { .. } => JournalError::Damaged {
            path: backup.to_path_buf(),
            why: "the log beside it belongs to another file; move that away and try again".to_owned(),
        },
        other => other,
    };
    let journal = Journal::open(part).map_err(named)?;
    let problems = journal.check().map_err(named)?;
    if let Some(first) = problems.first() {
        let why = format!("it is no whole copy ({} faults, the first: {first})", problems.len());
        return Err(JournalError::Damaged { path: backup.to_path_buf(), why });
    }
    let takes = journal.list(&Filter::default()).map_err(named)?.len();
    journal.into_one_file()?;
    sync(part).map_err(|source| JournalError::File { path: part.to_path_buf(), source })?;
    Ok(takes)
}

/// Has the journal alone, its log worked in; `None` where there is none or it cannot be read.
fn alone(path: &Path) -> Result<Option<Connection>> {
    if !path.exists() {
        return Ok(None);
    }
    // A log that does not belong is left as it is: what is set aside is to be what was there.
    let belongs = has_log(path) && whole(path, true)?;
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let lock = || -> rusqlite::Result<Connection> {
        let db = Connection::open_with_flags(path, flags)?;
        db.busy_timeout(Duration::from_secs(2))?;
        db.set_db_config(rusqlite::config::DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
        db.execute_batch("PRAGMA locking_mode = EXCLUSIVE;")?;
        if belongs {
            db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
        }
        db.execute_batch("BEGIN EXCLUSIVE;")?;
        Ok(db)
    };
    match lock() {
        Ok(db) => Ok(Some(db)),
        Err(e) => match JournalError::sql(path, &e) {
            busy @ JournalError::Busy { .. } => Err(busy),
            // What cannot be read cannot be in use.
            _ => Ok(None),
        },
    }
}

/// Puts a copy of the journal beside it under another name, and its log if there is one; which. The journal keeps its own
/// name, so that it is there whenever the power goes.
fn set_aside(path: &Path) -> std::io::Result<Option<PathBuf>> {
    const ALL: [&str; 3] = ["", "-wal", "-shm"];
    let there = |path: &Path| ALL.iter().any(|end| companion(path, end).exists());
    if !there(path) {
        return Ok(None);
    }
    let before = (1u32..)
        .map(|k| companion(path, &format!(".before-restore-{k}")))
        .find(|to| !there(to))
        .ok_or_else(|| std::io::Error::other("no free name"))?;
    let set = || {
        if path.exists() {
            let part = part_of(&before);
            std::fs::copy(path, &part)
                .and_then(|_| sync(&part))
                .and_then(|()| std::fs::rename(&part, &before))
                .inspect_err(|_| {
                    let _ = std::fs::remove_file(&part);
                })?;
        }
        for end in ["-wal", "-shm"] {
            let from = companion(path, end);
            // An empty log says nothing, and the index is made anew.
            match std::fs::metadata(&from) {
                Ok(meta) if end == "-wal" && meta.len() > 0 => std::fs::rename(&from, companion(&before, end))?,
                Ok(_) => std::fs::remove_file(&from)?,
                Err(_) => {}
            }
        }
        let _ = sync(folder_of(path));
        Ok(())
    };
    set().map(|()| Some(before.clone())).inspect_err(|_| put_back(&before, path))
}

/// As if nothing had been set aside.
fn put_back(before: &Path, path: &Path) {
    let _ = std::fs::rename(companion(before, "-wal"), companion(path, "-wal"));
    if path.exists() {
        let _ = std::fs::remove_file(before);
    }
}
