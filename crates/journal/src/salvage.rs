//! What can be saved from a damaged file.

use crate::error::{JournalError, Result};
use crate::file::{companion, copy_with, part_of};
use crate::journal::Journal;
use crate::model::{TakeRecord, TaskRecord};
use crate::pack::unpack;
use crate::seal;
use crate::tasks;
use rusqlite::Connection;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use takegauge_review::ScoreReport;

/// What [`salvage`] could read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Salvaged {
    /// Takes that are whole in the new journal.
    pub takes: usize,
    /// Tasks that are whole in it.
    pub tasks: usize,
    /// One sentence for each take or stretch that could not be read.
    pub lost: Vec<String>,
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
    tasks: BTreeMap<i64, (TaskRecord, bool)>,
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
        let mut tasks = BTreeMap::new();
        // Files of earlier formats have none.
        let has_tasks = db.prepare("SELECT 1 FROM sqlite_schema WHERE name = 'task'").and_then(|mut q| q.exists([]));
        if has_tasks.unwrap_or(true) {
            match tasks::sealed(&db) {
                Ok(rows) => rows.into_iter().for_each(|row| match row {
                    Ok((id, record, sealed)) => drop(tasks.insert(id, (record, sealed))),
                    Err(why) => lost.push(why),
                }),
                Err(e) => lost.push(format!("the tasks cannot be read: {e}")),
            }
        }
        Ok(Self { takes, tasks, lost })
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
        for (id, task) in other.tasks {
            self.tasks.entry(id).or_insert(task);
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
        let mut tasks = 0;
        for (id, (task, sealed)) in self.tasks {
            match new.put_task(&task, false) {
                Ok(_) => tasks += 1,
                Err(e @ (JournalError::Busy { .. } | JournalError::Write { .. } | JournalError::Open { .. })) => {
                    return Err(e);
                }
                Err(e) => self.lost.push(format!("task {id}: {e}")),
            }
            if !sealed {
                self.lost.push(format!("task {id} is not as it was stored; it was kept as it reads"));
            }
        }
        Ok(Salvaged { takes, tasks, lost: self.lost })
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
    let report = ScoreReport::from_json(&text).map_err(|e| bad(&e))?;
    Ok((record, report, text))
}
