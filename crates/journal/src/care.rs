//! Looking after the file: checks, copies, and what can be saved from a damaged one.

use crate::error::{JournalError, Result};
use crate::file::{companion, copy_with, folder_of, sync};
use crate::journal::Journal;
use crate::model::{Filter, TakeRecord, drill_hash};
use crate::pack::unpack;
use crate::seal;
use rusqlite::Connection;
use rusqlite::backup::Backup;
use rusqlite::types::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use takegauge_drill::Drill;
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

    /// Structure, indexes, references; every stored report read, its checksum and that of the words beside it taken, and
    /// the figures worked out from it anew; what lies on the shelf too. One sentence a problem.
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
        let anew = Anew::new()?;
        for row in rows {
            match self.take(row.take) {
                Ok((record, drill, report)) => {
                    match seal::holds(&self.db, row.take) {
                        Some(true) => {}
                        Some(false) => problems.push(format!("take {} is not as it was stored", row.take)),
                        None => problems.push(format!("take {} has no checksum", row.take)),
                    }
                    if !anew.same(&self.db, row.take, &record, &drill, &report).unwrap_or(false) {
                        problems.push(format!("the figures of take {} are not those of its report", row.take));
                    }
                }
                Err(JournalError::NoTake(id)) => problems.push(format!("take {id} has no report")),
                Err(e) => problems.push(format!("take {} cannot be read: {e}", row.take)),
            }
        }
        problems.extend(self.check_shelf());
        Ok(problems)
    }

    fn check_shelf(&self) -> Vec<String> {
        let read = || -> rusqlite::Result<Vec<String>> {
            let mut query =
                self.db.prepare("SELECT take, record, packing, body, sha256 FROM shelf ORDER BY action, take")?;
            let rows = query.query_map([], |r| {
                let (take, record, sum): (i64, String, String) = (r.get(0)?, r.get(1)?, r.get(4)?);
                let now = seal::of_shelved(&record, r.get(2)?, &r.get::<_, Vec<u8>>(3)?);
                Ok((take, now.is_some_and(|now| now == sum)))
            })?;
            let bad = |row: rusqlite::Result<(i64, bool)>| match row {
                Ok((_, true)) => None,
                Ok((take, false)) => Some(format!("take {take} on the shelf is not as it was put there")),
                Err(e) => Some(format!("part of the shelf cannot be read: {e}")),
            };
            Ok(rows.filter_map(bad).collect())
        };
        read().unwrap_or_else(|e| vec![format!("the shelf cannot be read: {e}")])
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
        let done = copy().map_err(std::io::Error::other).and_then(|()| {
            sync(&part)?;
            std::fs::rename(&part, to)?;
            // Not every system lets a folder be opened; the copy itself is safe.
            let _ = sync(folder_of(to));
            Ok(())
        });
        done.map_err(|e| {
            let _ = std::fs::remove_file(&part);
            refuse(e)
        })
    }
}

/// Takes stored afresh in memory, against which the stored rows are held: whatever columns a format has.
struct Anew(std::cell::RefCell<Connection>);

impl Anew {
    fn new() -> Result<Self> {
        let path = Path::new(":memory:");
        let mut db = Connection::open_in_memory().map_err(|e| JournalError::sql(path, &e))?;
        crate::schema::migrate(&mut db, path)?;
        Ok(Self(std::cell::RefCell::new(db)))
    }

    /// Whether the rows of a take are those that its report gives.
    fn same(
        &self,
        stored: &Connection,
        take: i64,
        record: &TakeRecord,
        drill: &Drill,
        report: &ScoreReport,
    ) -> rusqlite::Result<bool> {
        let mut db = self.0.borrow_mut();
        // Rolled back when it goes out of scope.
        let step = db.transaction()?;
        crate::journal::insert(&step, Some(take), record, drill, &drill_hash(drill), report, (0, &[]))?;
        let of = |db: &Connection, query: &str, from: usize| -> rusqlite::Result<Vec<Vec<Value>>> {
            let mut query = db.prepare_cached(query)?;
            let columns = query.column_count();
            query.query_map([take], |r| (from..columns).map(|k| r.get(k)).collect())?.collect()
        };
        // Without the numbers of take, player and drill (and of the group), which are each file's own.
        let takes = "SELECT * FROM take WHERE id = ?1";
        let figures =
            "SELECT g.id, g.name, f.* FROM figure f JOIN note_group g ON g.id = f.note_group WHERE f.take = ?1
                       ORDER BY g.name";
        let plain = |rows: Vec<Vec<Value>>| -> Vec<Vec<Value>> {
            let cut = |row: Vec<Value>| row[..1].iter().chain(row.get(3..).unwrap_or_default()).cloned().collect();
            rows.into_iter().map(cut).collect()
        };
        Ok(of(stored, takes, 3)? == of(&step, takes, 3)?
            && plain(of(stored, figures, 1)?) == plain(of(&step, figures, 1)?))
    }
}

/// The name under which a file is made before it is complete.
pub(crate) fn part_of(to: &Path) -> PathBuf {
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
    // Reading may roll the log forward, so it is done on copies: with the log, and without it in case it is damaged or
    // belongs to another file.
    let log = companion(damaged, "-wal").is_file();
    let copies: Vec<(PathBuf, bool)> = [(true, ".a"), (false, ".b")]
        .into_iter()
        .filter(|(with_log, _)| *with_log || log)
        .map(|(with_log, end)| (companion(&part_of(to), end), with_log))
        .collect();
    let clean = || {
        for (copy, _) in &copies {
            for end in ["", "-wal", "-shm", "-journal"] {
                let _ = std::fs::remove_file(companion(copy, end));
            }
        }
    };
    let result = (|| {
        let mut readings = Vec::new();
        let mut last = None;
        for (copy, with_log) in &copies {
            copy_with(damaged, copy, *with_log)?;
            match Reading::of(copy, damaged) {
                Ok(reading) => readings.push(reading),
                Err(e) => last = Some(e),
            }
        }
        // Whichever gives more whole takes leads; of equals the one with the log, which is newer.
        readings.sort_by_key(|r| std::cmp::Reverse(r.takes.values().filter(|t| t.sealed).count()));
        let mut readings = readings.into_iter();
        let Some(mut best) = readings.next() else {
            return Err(last.unwrap_or_else(|| JournalError::Missing { path: damaged.to_path_buf() }));
        };
        for other in readings {
            best.fill_from(other);
        }
        best.write(to)
    })();
    clean();
    result
}

/// What one copy gives.
struct Reading {
    takes: BTreeMap<i64, Saved>,
    lost: Vec<String>,
}

struct Saved {
    record: TakeRecord,
    report: ScoreReport,
    text: String,
    /// Its checksum holds, or there is none.
    sealed: bool,
}

impl Reading {
    fn of(copy: &Path, damaged: &Path) -> Result<Self> {
        let fail = |e: rusqlite::Error| match JournalError::sql(damaged, &e) {
            JournalError::Write { path, why } => JournalError::Damaged { path, why },
            other => other,
        };
        let db = Connection::open(copy).map_err(fail)?;
        let mut lost = Vec::new();
        let ids = take_ids(&db, &mut lost).map_err(fail)?;
        let mut takes = BTreeMap::new();
        for id in ids {
            match read_take(&db, id, &mut lost) {
                Ok((record, report, text)) => {
                    let sealed = seal::holds(&db, id).unwrap_or(true);
                    takes.insert(id, Saved { record, report, text, sealed });
                }
                Err(e) => lost.push(format!("take {id}: {e}")),
            }
        }
        Ok(Self { takes, lost })
    }

    /// Takes whole ones from another reading where this one has none.
    fn fill_from(&mut self, other: Self) {
        for (id, take) in other.takes {
            let better = match self.takes.get(&id) {
                None => true,
                Some(here) => !here.sealed && take.sealed,
            };
            if better {
                self.lost.retain(|line| !line.starts_with(&format!("take {id}:")));
                self.takes.insert(id, take);
            }
        }
    }

    fn write(mut self, to: &Path) -> Result<Salvaged> {
        let mut new = Journal::open_or_create(to)?;
        let mut takes = 0;
        for (id, take) in self.takes {
            match new.add_text(&take.record, &take.report, &take.text) {
                Ok(_) => takes += 1,
                Err(e @ (JournalError::Busy { .. } | JournalError::Write { .. } | JournalError::Open { .. })) => {
                    return Err(e);
                }
                Err(e) => self.lost.push(format!("take {id}: {e}")),
            }
            if !take.sealed {
                self.lost.push(format!("take {id} is not as it was stored; it was kept as it reads"));
            }
        }
        Ok(Salvaged { takes, lost: self.lost })
    }
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
    let record = match crate::record::record(db, id) {
        Ok(record) => record,
        Err(_) => {
            let record = crate::record::record_without_tags(db, id).map_err(|e| bad(&e))?;
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
