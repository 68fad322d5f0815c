//! Taking takes out, and getting them back.

use crate::error::{JournalError, Result};
use crate::journal::{Journal, insert, new_action, shelve};
use crate::model::{Filter, TakeRecord, drill_hash};
use crate::pack::unpack;
use crate::tasks;
use rusqlite::{OptionalExtension, Transaction, params_from_iter};
use takegauge_drill::Drill;
use takegauge_review::ScoreReport;

/// What [`Journal::undo`] took back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Undone {
    /// "deleting 3 takes"
    pub what: String,
    /// The takes that are back.
    pub takes: Vec<i64>,
    /// The tasks that are as they were before; also those that were not there then.
    pub tasks: Vec<i64>,
    /// What stood in their place went on the shelf.
    pub replaced: bool,
}

/// What [`Journal::compact`] did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Compacted {
    /// Deleted or replaced scores that are now gone for good.
    pub forgotten: usize,
    /// Changes of tasks that can no longer be taken back.
    pub task_changes: usize,
    /// Size of the file before, bytes.
    pub before: u64,
    /// And after.
    pub after: u64,
}

impl Journal {
    /// Puts the takes that pass the filter on the shelf, from which [`Journal::undo`] brings them back; how many.
    ///
    /// # Errors
    /// [`JournalError::Busy`], [`JournalError::Write`].
    pub fn delete(&mut self, filter: &Filter, what: &str) -> Result<usize> {
        let path = self.path.clone();
        let work = |step: &Transaction<'_>| -> rusqlite::Result<usize> {
            let (clause, values) = filter.clause();
            let mut query = step.prepare(&format!("SELECT t.id FROM take t WHERE {clause} ORDER BY t.id"))?;
            let ids: Vec<i64> =
                query.query_map(params_from_iter(values), |r| r.get(0))?.collect::<rusqlite::Result<_>>()?;
            if !ids.is_empty() {
                let action = new_action(step, what)?;
                for id in &ids {
                    shelve(step, action, *id)?;
                    step.prepare_cached("DELETE FROM take WHERE id = ?1")?.execute([id])?;
                }
            }
            Ok(ids.len())
        };
        let fail = |e: rusqlite::Error| JournalError::sql(&path, &e);
        let step = self.begin()?;
        let n = work(&step).map_err(fail)?;
        step.commit().map_err(fail)?;
        self.still_there()?;
        Ok(n)
    }

    /// Takes back the last deletion, new score, mending or change of tasks that [`Journal::compact`] has not made final; `None` where
    /// there is none. What stands in the journal of the same recordings meanwhile goes on the shelf in turn, from where
    /// [`Journal::redo`] brings it back.
    ///
    /// # Errors
    /// [`JournalError::Record`] if the shelf cannot be read, [`JournalError::Moved`], [`JournalError::Busy`],
    /// [`JournalError::Write`].
    pub fn undo(&mut self) -> Result<Option<Undone>> {
        self.bring_back(false)
    }

    /// Brings back what the last [`Journal::undo`] took out of the journal; `None` where there is nothing. What gives
    /// way to it can be had back with undo.
    ///
    /// # Errors
    /// As [`Journal::undo`].
    pub fn redo(&mut self) -> Result<Option<Undone>> {
        self.bring_back(true)
    }

    fn bring_back(&mut self, undone: bool) -> Result<Option<Undone>> {
        let path = self.path.clone();
        let fail = |e: rusqlite::Error| JournalError::sql(&path, &e);
        let step = self.begin()?;
        let last: Option<(i64, String)> = step
            .query_row("SELECT id, what FROM action WHERE undone = ?1 ORDER BY id DESC LIMIT 1", [undone], |r| {
                Ok((r.get(0)?, r.get(1)?))
            })
            .optional()
            .map_err(fail)?;
        let Some((action, what)) = last else { return Ok(None) };
        let shelved = on_shelf(&step, action).map_err(fail)?;
        let mut takes = Vec::with_capacity(shelved.len());
        // What gives way is kept, for the other direction.
        let mut counter = None;
        for (take, record, packing, body) in shelved {
            let bad = |e: &dyn std::fmt::Display| JournalError::Record(format!("take {take} on the shelf: {e}"));
            let record: TakeRecord = serde_json::from_str(&record).map_err(|e| bad(&e))?;
            let drill = Drill::parse(&record.drill, "the shelf").map_err(|e| bad(&e))?;
            let report = ScoreReport::from_json(&unpack(packing, &body)?).map_err(|e| bad(&e))?;
            let hash = drill_hash(&drill);
            for other in in_its_place(&step, take, &record.audio_sha256, &hash).map_err(fail)? {
                let to = counter_action(&step, &mut counter, &what, !undone).map_err(fail)?;
                shelve(&step, to, other).map_err(fail)?;
                step.execute("DELETE FROM take WHERE id = ?1", [other]).map_err(fail)?;
            }
            insert(&step, Some(take), &record, &drill, &hash, &report, (packing, &body)).map_err(fail)?;
            crate::seal::put(&step, take).map_err(fail)?;
            takes.push(take);
        }
        let mut tasks = Vec::new();
        for (task, before) in tasks::kept(&step, action).map_err(fail)?? {
            let to = counter_action(&step, &mut counter, &what, !undone).map_err(fail)?;
            tasks::keep(&step, to, task).map_err(fail)?;
            tasks::lay_back(&step, task, before.as_ref()).map_err(fail)?;
            tasks.push(task);
        }
        step.execute("DELETE FROM action WHERE id = ?1", [action]).map_err(fail)?;
        step.commit().map_err(fail)?;
        self.still_there()?;
        Ok(Some(Undone { what, takes, tasks, replaced: counter.is_some() }))
    }

    /// How many scores lie on the shelf for [`Journal::undo`].
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn on_shelf(&self) -> Result<usize> {
        self.shelved("SELECT count(*) FROM shelf WHERE action IN (SELECT id FROM action WHERE undone = 0)")
    }

    /// What [`Journal::undo`] would take back, in words; `None` where there is nothing.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn last_change(&self) -> Result<Option<String>> {
        let last = "SELECT what FROM action WHERE undone = 0 ORDER BY id DESC LIMIT 1";
        self.db.query_row(last, [], |r| r.get(0)).optional().map_err(|e| self.sql(&e))
    }

    fn shelved(&self, query: &str) -> Result<usize> {
        let n: i64 = self.db.query_row(query, [], |r| r.get(0)).map_err(|e| self.sql(&e))?;
        Ok(usize::try_from(n).unwrap_or(0))
    }

    /// Forgets what was deleted, drills without takes and players without takes and tasks too, and gives the room back. The freed content is
    /// overwritten in the file.
    ///
    /// # Errors
    /// [`JournalError::Busy`], [`JournalError::Write`].
    pub fn compact(&mut self) -> Result<Compacted> {
        self.still_there()?;
        let size = |path: &std::path::Path| std::fs::metadata(path).map_or(0, |m| m.len());
        let forgotten = self.shelved("SELECT count(*) FROM shelf")?;
        let task_changes = self.shelved("SELECT count(*) FROM task_before")?;
        let before = size(&self.path);
        self.db
            .execute_batch(
                "BEGIN IMMEDIATE;
                 DELETE FROM action;
                 DELETE FROM player WHERE id NOT IN (SELECT player FROM take) AND id NOT IN (SELECT player FROM task);
                 DELETE FROM drill WHERE id NOT IN (SELECT drill FROM take);
                 COMMIT;
                 VACUUM;
                 PRAGMA wal_checkpoint(TRUNCATE);",
            )
            .map_err(|e| {
                // Leaves no transaction open; where none is, this fails and nothing is lost.
                let _ = self.db.execute_batch("ROLLBACK");
                self.sql(&e)
            })?;
        self.still_there()?;
        Ok(Compacted { forgotten, task_changes, before, after: size(&self.path) })
    }
}

/// The action that takes back what is being taken back, made where it is first needed.
fn counter_action(
    step: &Transaction<'_>,
    counter: &mut Option<i64>,
    what: &str,
    undone: bool,
) -> rusqlite::Result<i64> {
    if let Some(to) = *counter {
        return Ok(to);
    }
    let to = new_action(step, what)?;
    step.execute("UPDATE action SET undone = ?2 WHERE id = ?1", (to, undone))?;
    Ok(*counter.insert(to))
}

type Shelved = (i64, String, i64, Vec<u8>);

/// The takes of the same number or the same recording and drill.
fn in_its_place(step: &Transaction<'_>, take: i64, audio: &str, drill_hash: &str) -> rusqlite::Result<Vec<i64>> {
    let mut query = step.prepare_cached(
        "SELECT id FROM take WHERE id = ?1 OR (audio_sha256 = ?2 AND drill = (SELECT id FROM drill WHERE hash = ?3))
         ORDER BY id",
    )?;
    query.query_map(rusqlite::params![take, audio, drill_hash], |r| r.get(0))?.collect()
}

fn on_shelf(step: &Transaction<'_>, action: i64) -> rusqlite::Result<Vec<Shelved>> {
    let mut query = step.prepare("SELECT take, record, packing, body FROM shelf WHERE action = ?1 ORDER BY take")?;
    query.query_map([action], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?)))?.collect()
}
