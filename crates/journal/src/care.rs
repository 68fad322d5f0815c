//! Looking after the file: checks, copies, and what can be saved from a damaged one.

use crate::error::{JournalError, Result};
use crate::journal::Journal;
use crate::model::{Filter, TakeRecord};
use crate::pack::unpack;
use rusqlite::Connection;
use rusqlite::backup::Backup;
use std::path::{Path, PathBuf};
use takegauge_review::ScoreReport;

/// What [`salvage`] could read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Salvaged {
    /// Takes that are whole in the new journal.
    pub takes: usize,
    /// One sentence for each take or stretch that could not be read.
    pub lost: Vec<String>,
}

impl Journal {
    /// A quick look at the file's structure; empty where all is well.
    ///
    /// # Errors
    /// [`JournalError::Damaged`] where not even that can be read.
    pub fn quick_check(&self) -> Result<Vec<String>> {
        self.pragma_check("quick_check")
    }

    /// SQLite's own check; a fault a line, though it may put many into one row.
    fn pragma_check(&self, pragma: &str) -> Result<Vec<String>> {
        let read = || -> rusqlite::Result<Vec<String>> {
            let mut query = self.db.prepare(&format!("PRAGMA {pragma}"))?;
            query.query_map([], |r| r.get(0))?.collect()
        };
        let found = read().map_err(|e| self.sql(&e))?;
        let lines = found.iter().flat_map(|row| row.lines());
        Ok(lines.filter(|l| *l != "ok" && !l.starts_with("***")).map(str::to_owned).collect())
    }

    /// Structure, indexes, references, and every stored report read; one sentence a problem.
    ///
    /// # Errors
    /// [`JournalError::Damaged`] where not even SQLite's own check can be run.
    pub fn check(&self) -> Result<Vec<String>> {
        let mut problems = self.pragma_check("integrity_check")?;
        let read = || -> rusqlite::Result<Vec<String>> {
            let mut query = self.db.prepare("PRAGMA foreign_key_check")?;
            let rows = query.query_map([], |r| {
                let (table, row): (String, Option<i64>) = (r.get(0)?, r.get(1)?);
                Ok(format!("a row of {table} ({}) points nowhere", row.unwrap_or_default()))
            })?;
            rows.collect()
        };
        match read() {
            Ok(found) => problems.extend(found),
            Err(e) => problems.push(format!("the references cannot be read: {e}")),
        }
        let rows = self.list(&Filter::default()).unwrap_or_else(|e| {
            problems.push(format!("the takes cannot be listed: {e}"));
            Vec::new()
        });
        for row in rows {
            match self.take(row.take) {
                Ok(_) => {}
                Err(JournalError::NoTake(id)) => problems.push(format!("take {id} has no report")),
                Err(e) => problems.push(format!("take {} cannot be read: {e}", row.take)),
            }
        }
        Ok(problems)
    }

    /// Copies the journal, other writers' finished work included, to a new file (SQLite's online backup).
    ///
    /// # Errors
    /// [`JournalError::File`] if `to` is there already or cannot be written.
    pub fn backup(&self, to: &Path) -> Result<()> {
        let refuse = |source| JournalError::File { path: to.to_path_buf(), source };
        if to.exists() {
            return Err(refuse(std::io::Error::new(std::io::ErrorKind::AlreadyExists, "there is a file of that name")));
        }
        let part = part_of(to);
        let copy = || -> rusqlite::Result<()> {
            let mut target = Connection::open(&part)?;
            Backup::new(&self.db, &mut target)?.run_to_completion(1024, std::time::Duration::ZERO, None)?;
            // One file without companions, so that it can be moved about.
            target.pragma_update_and_check(None, "journal_mode", "delete", |_| Ok(()))?;
            target.close().map_err(|(_, e)| e)
        };
        let done = copy().map_err(std::io::Error::other).and_then(|()| std::fs::rename(&part, to));
        done.map_err(|e| {
            let _ = std::fs::remove_file(&part);
            refuse(e)
        })
    }
}

/// The name under which a file is made before it is complete.
fn part_of(to: &Path) -> PathBuf {
    let mut name = to.as_os_str().to_owned();
    name.push(format!(".{}.part", std::process::id()));
    PathBuf::from(name)
}

/// Reads take by take what a damaged journal still gives and writes it to a new journal at `to`. The damaged file is
/// not changed.
///
/// # Errors
/// [`JournalError::File`] if `to` is there already or the damaged file cannot be copied; [`JournalError::Missing`];
/// [`JournalError::Damaged`] if nothing in it can be read; else as [`Journal::open_or_create`].
pub fn salvage(damaged: &Path, to: &Path) -> Result<Salvaged> {
    if to.exists() {
        let source = std::io::Error::new(std::io::ErrorKind::AlreadyExists, "there is a file of that name");
        return Err(JournalError::File { path: to.to_path_buf(), source });
    }
    if !damaged.is_file() {
        return Err(JournalError::Missing { path: damaged.to_path_buf() });
    }
    // Reading may roll the log forward, so it is done on a copy, the log with it.
    let copy = part_of(to);
    let companion = |path: &Path, end: &str| {
        let mut name = path.as_os_str().to_owned();
        name.push(end);
        PathBuf::from(name)
    };
    let clean = || {
        for end in ["", "-wal", "-shm"] {
            let _ = std::fs::remove_file(companion(&copy, end));
        }
    };
    let result = (|| {
        for end in ["", "-wal"] {
            let from = companion(damaged, end);
            if end.is_empty() || from.is_file() {
                std::fs::copy(&from, companion(&copy, end))
                    .map_err(|source| JournalError::File { path: from.clone(), source })?;
            }
        }
        salvage_copy(&copy, damaged, to)
    })();
    clean();
    result
}

fn salvage_copy(copy: &Path, damaged: &Path, to: &Path) -> Result<Salvaged> {
    let fail = |e: rusqlite::Error| match JournalError::sql(damaged, &e) {
        JournalError::Write { path, why } => JournalError::Damaged { path, why },
        other => other,
    };
    let db = Connection::open(copy).map_err(fail)?;
    let mut lost = Vec::new();
    let ids = take_ids(&db, &mut lost).map_err(fail)?;
    let mut new = Journal::open_or_create(to)?;
    let mut takes = 0;
    for id in ids {
        match read_take(&db, id, &mut lost).and_then(|(record, report, text)| new.add_text(&record, &report, &text)) {
            Ok(_) => takes += 1,
            Err(e @ (JournalError::Busy { .. } | JournalError::Write { .. } | JournalError::Open { .. })) => {
                return Err(e);
            }
            Err(e) => lost.push(format!("take {id}: {e}")),
        }
    }
    Ok(Salvaged { takes, lost })
}

/// All numbers of takes that any of the tables still gives, whether or not the others do.
fn take_ids(db: &Connection, lost: &mut Vec<String>) -> rusqlite::Result<Vec<i64>> {
    let mut ids = std::collections::BTreeSet::new();
    let mut worked = 0;
    let mut last = None;
    for (table, column) in [("take", "id"), ("report", "take")] {
        for order in ["ASC", "DESC"] {
            // From both ends: a damaged page in the middle hides what lies behind it.
            let walk = || -> rusqlite::Result<Vec<rusqlite::Result<i64>>> {
                let mut query =
                    db.prepare(&format!("SELECT {column} FROM {table} NOT INDEXED ORDER BY {column} {order}"))?;
                Ok(query.query_map([], |r| r.get(0))?.collect())
            };
            match walk() {
                Ok(rows) => {
                    worked += 1;
                    let broken = rows.iter().filter(|r| r.is_err()).count();
                    if broken > 0 && order == "ASC" {
                        lost.push(format!("part of the table {table} cannot be read"));
                    }
                    ids.extend(rows.into_iter().flatten());
                }
                Err(e) => last = Some(e),
            }
        }
    }
    match last {
        Some(e) if worked == 0 => Err(e),
        _ => Ok(ids.into_iter().collect()),
    }
}

fn read_take(db: &Connection, id: i64, lost: &mut Vec<String>) -> Result<(TakeRecord, ScoreReport, String)> {
    let bad = |e: &dyn std::fmt::Display| JournalError::Record(e.to_string());
    let record = match crate::takes::record(db, id) {
        Ok(record) => record,
        Err(_) => {
            let record = crate::takes::record_without_tags(db, id).map_err(|e| bad(&e))?;
            lost.push(format!("the tags of take {id}"));
            record
        }
    };
    let (packing, body): (i64, Vec<u8>) = db
        .query_row("SELECT packing, body FROM report WHERE take = ?1", [id], |r| Ok((r.get(0)?, r.get(1)?)))
        .map_err(|e| bad(&e))?;
    let text = unpack(packing, &body)?;
    let report = serde_json::from_str(&text).map_err(|e| bad(&e))?;
    Ok((record, report, text))
}
