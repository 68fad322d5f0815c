//! Looking after the file: checks and copies.

use crate::error::{JournalError, Result};
use crate::file::{folder_of, part_of, sync};
use crate::journal::Journal;
use crate::model::{Filter, TakeRecord, drill_hash};
use crate::names::player_key;
use crate::seal;
use crate::tasks;
use rusqlite::Connection;
use rusqlite::backup::Backup;
use rusqlite::types::Value;
use std::collections::BTreeSet;
use std::path::Path;
use takegauge_drill::Drill;
use takegauge_review::ScoreReport;
use takegauge_review::history::figures_of;

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
        let mut labels = BTreeSet::new();
        for row in rows {
            match self.take(row.take) {
                Ok((record, drill, report)) => {
                    labels.extend(figures_of(&report).map(|(group, label, _)| (group.to_string(), label.to_owned())));
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
        problems.extend(self.check_labels(&labels).unwrap_or_else(|e| vec![format!("the groups cannot be read: {e}")]));
        problems.extend(self.check_names().unwrap_or_else(|e| vec![format!("the names cannot be read: {e}")]));
        problems.extend(self.check_shelf());
        problems.extend(tasks::check(&self.db));
        Ok(problems)
    }

    /// Each group that takes have is called as in one of their reports.
    fn check_labels(&self, told: &BTreeSet<(String, String)>) -> rusqlite::Result<Vec<String>> {
        let mut query = self.db.prepare(
            "SELECT name, label FROM note_group g WHERE EXISTS (SELECT 1 FROM figure f WHERE f.note_group = g.id) ORDER BY id",
        )?;
        let rows = query.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?.collect::<rusqlite::Result<Vec<_>>>()?;
        let bad = |(name, _): (String, String)| format!("the group {name:?} is called as in no take's report");
        Ok(rows.into_iter().filter(|row| !told.contains(row)).map(bad).collect())
    }

    /// The keys of players and the names and hashes of drills are worked out from what stands beside them.
    fn check_names(&self) -> rusqlite::Result<Vec<String>> {
        let mut bad = Vec::new();
        let mut query = self.db.prepare("SELECT name, key FROM player ORDER BY id")?;
        for row in query.query_map([], |r| Ok((r.get::<_, String>(0)?, r.get::<_, String>(1)?)))? {
            let (name, key) = row?;
            if player_key(&name) != key {
                bad.push(format!("the key of player {name:?} is not that of the name"));
            }
        }
        let mut query = self.db.prepare("SELECT name, hash, toml FROM drill ORDER BY id")?;
        let rows =
            query.query_map([], |r| Ok((r.get::<_, String>(0)?, r.get::<_, String>(1)?, r.get::<_, String>(2)?)))?;
        for row in rows {
            let (name, hash, toml) = row?;
            let holds = |drill: Drill| drill.name == name && drill_hash(&drill) == hash;
            if !Drill::parse(&toml, "the journal").is_ok_and(holds) {
                bad.push(format!("drill {name:?} is not as it was stored"));
            }
        }
        Ok(bad)
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
        let findings = "SELECT * FROM finding WHERE take = ?1 ORDER BY place";
        Ok(of(stored, takes, 3)? == of(&step, takes, 3)?
            && of(stored, findings, 0)? == of(&step, findings, 0)?
            && plain(of(stored, figures, 1)?) == plain(of(&step, figures, 1)?))
    }
}
