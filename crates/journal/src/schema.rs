//! The tables, and how a file of an earlier format is brought up to date.
//!
//! `PRAGMA user_version` holds the format; each migration runs with its version number in one transaction, so a file is
//! in one format or the next, never between. The table of figures has the columns that the figures' declarations name: where
//! it has others it is made anew from the stored reports ([`figures`]). Tempo is kept as thousandths of a beat a minute.

use crate::error::{JournalError, Result};
use crate::figures;
use rusqlite::{Connection, TransactionBehavior};
use std::path::Path;

/// The format of this version.
pub(crate) const FORMAT: i64 = 6;

/// "takg" in ASCII: tells a journal from any other SQLite file.
pub(crate) const APPLICATION_ID: i64 = 0x7461_6b67;

const V1: &str = "
CREATE TABLE player (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE drill (
  id INTEGER PRIMARY KEY, hash TEXT NOT NULL UNIQUE, name TEXT NOT NULL, toml TEXT NOT NULL);
CREATE TABLE take (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  player INTEGER NOT NULL REFERENCES player, drill INTEGER NOT NULL REFERENCES drill,
  audio_sha256 TEXT NOT NULL, path TEXT NOT NULL,
  recorded_ms INTEGER NOT NULL, offset_s INTEGER NOT NULL, day INTEGER NOT NULL,
  picked TEXT NOT NULL, guitar TEXT NOT NULL, microphone TEXT NOT NULL, note TEXT NOT NULL,
  tempo_mbpm INTEGER NOT NULL, reached INTEGER NOT NULL, errors INTEGER NOT NULL, finding TEXT NOT NULL,
  UNIQUE (audio_sha256, drill));
CREATE INDEX take_by_drill ON take (player, drill, recorded_ms);
CREATE INDEX take_by_time ON take (recorded_ms);
CREATE TABLE tag (
  take INTEGER NOT NULL REFERENCES take ON DELETE CASCADE, name TEXT NOT NULL, PRIMARY KEY (take, name)) WITHOUT ROWID;
CREATE TABLE report (
  take INTEGER PRIMARY KEY REFERENCES take ON DELETE CASCADE, packing INTEGER NOT NULL, body BLOB NOT NULL);
";

const V2: &str = "
CREATE TABLE note_group (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, label TEXT NOT NULL);
";

const V3: &str = "
CREATE TABLE action (id INTEGER PRIMARY KEY AUTOINCREMENT, what TEXT NOT NULL);
CREATE TABLE shelf (
  action INTEGER NOT NULL REFERENCES action ON DELETE CASCADE, take INTEGER NOT NULL, record TEXT NOT NULL,
  packing INTEGER NOT NULL, body BLOB NOT NULL, PRIMARY KEY (action, take));
";

/// Checksums of what is stored ([`crate::seal`]), and which actions on the shelf are themselves taken back.
const V4: &str = "
CREATE TABLE seal (take INTEGER PRIMARY KEY REFERENCES take ON DELETE CASCADE, sha256 TEXT NOT NULL);
ALTER TABLE shelf ADD COLUMN sha256 TEXT NOT NULL DEFAULT '';
ALTER TABLE action ADD COLUMN undone INTEGER NOT NULL DEFAULT 0;
";

/// What all spellings of a player have in common ([`crate::names`]); the findings of each take; tasks, and what they were
/// before the actions that changed them.
const V6: &str = "
ALTER TABLE player ADD COLUMN key TEXT NOT NULL DEFAULT '';
CREATE INDEX player_by_key ON player (key);
CREATE TABLE finding (
  take INTEGER NOT NULL REFERENCES take ON DELETE CASCADE, place INTEGER NOT NULL, note_group TEXT NOT NULL,
  measure TEXT NOT NULL, text TEXT NOT NULL, PRIMARY KEY (take, place)) WITHOUT ROWID;
CREATE TABLE task (
  id INTEGER PRIMARY KEY AUTOINCREMENT, player INTEGER NOT NULL REFERENCES player, what TEXT NOT NULL,
  drill TEXT NOT NULL, tempo_mbpm INTEGER, set_day INTEGER NOT NULL, due_day INTEGER, done_day INTEGER,
  sha256 TEXT NOT NULL);
CREATE TABLE task_before (
  action INTEGER NOT NULL REFERENCES action ON DELETE CASCADE, task INTEGER NOT NULL, before TEXT,
  sha256 TEXT NOT NULL, PRIMARY KEY (action, task));
";

/// Brings a file to [`FORMAT`].
pub(crate) fn migrate(db: &mut Connection, path: &Path) -> Result<()> {
    migrate_to(db, path, FORMAT)
}

/// Brings a file to an earlier format or the latest.
pub(crate) fn migrate_to(db: &mut Connection, path: &Path, target: i64) -> Result<()> {
    let sql = |e: rusqlite::Error| JournalError::sql(path, &e);
    loop {
        let version: i64 = db.pragma_query_value(None, "user_version", |r| r.get(0)).map_err(sql)?;
        if version > FORMAT {
            return Err(JournalError::TooNew { path: path.to_path_buf(), found: version, known: FORMAT });
        }
        if version >= target {
            return if target < FORMAT { Ok(()) } else { declared_figures(db).map_err(sql) };
        }
        // Whoever comes second waits for the lock and then finds the work done.
        let step = db.transaction_with_behavior(TransactionBehavior::Immediate).map_err(sql)?;
        let now: i64 = step.pragma_query_value(None, "user_version", |r| r.get(0)).map_err(sql)?;
        if now == version {
            match version {
                0 => first(&step, path)?,
                1 => step.execute_batch(V2).map_err(sql)?,
                2 => step.execute_batch(V3).map_err(sql)?,
                3 => {
                    step.execute_batch(V4).map_err(sql)?;
                    crate::seal::fill(&step).map_err(sql)?;
                }
                4 => figures::bring_up(&step).map_err(sql)?,
                _ => {
                    step.execute_batch(V6).map_err(sql)?;
                    crate::names::fill(&step).map_err(sql)?;
                    crate::found::fill(&step).map_err(sql)?;
                }
            }
            step.pragma_update(None, "user_version", version + 1).map_err(sql)?;
        }
        step.commit().map_err(sql)?;
    }
}

/// The latest format has the columns of the figures that this program declares.
fn declared_figures(db: &mut Connection) -> rusqlite::Result<()> {
    if figures::fits(db)? {
        return Ok(());
    }
    let step = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
    figures::bring_up(&step)?;
    step.commit()
}

fn first(db: &Connection, path: &Path) -> Result<()> {
    let sql = |e: rusqlite::Error| JournalError::sql(path, &e);
    let tables: i64 = db.query_row("SELECT count(*) FROM sqlite_schema", [], |r| r.get(0)).map_err(sql)?;
    if tables != 0 {
        return Err(JournalError::Damaged {
            path: path.to_path_buf(),
            why: "it is a database of another program, not a journal".to_owned(),
        });
    }
    db.execute_batch(V1).map_err(sql)?;
    db.pragma_update(None, "application_id", APPLICATION_ID).map_err(sql)
}
