//! Opening a journal and adding takes.

use crate::error::{JournalError, Result};
use crate::figures;
use crate::file::{self, Identity, companion};
use crate::found;
use crate::model::{TakeRecord, drill_hash, tidy_tags};
use crate::names::{player_key, spelling, tidy_name};
use crate::pack::{PACKING, Packer, unpack};
use crate::schema::{APPLICATION_ID, FORMAT, migrate};
use crate::seal;
use rusqlite::{Connection, OpenFlags, OptionalExtension, Transaction, TransactionBehavior, params};
use std::path::{Path, PathBuf};
use std::time::Duration;
use takegauge_drill::Drill;
use takegauge_review::ScoreReport;

/// How long to wait for another program that writes.
const PATIENCE: Duration = Duration::from_secs(30);

/// A practice history in one SQLite file (write-ahead log, every commit synced). One writer at a time: others wait.
#[derive(Debug)]
pub struct Journal {
    pub(crate) db: Connection,
    pub(crate) path: PathBuf,
    packer: Packer,
    /// The file that was opened, and its log; `None` where nothing may be written.
    opened: Option<[Option<Identity>; 2]>,
}

/// What became of a take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Added {
    /// It is in the journal under this number.
    New(i64),
    /// It was there already, with this very score.
    Same(i64),
    /// It was there with another score, which can be had back with undo.
    Rescored(i64),
}

impl Added {
    /// The take's number.
    pub fn take(self) -> i64 {
        match self {
            Self::New(id) | Self::Same(id) | Self::Rescored(id) => id,
        }
    }
}

impl Journal {
    /// Opens the journal at `path`; makes it, and its folder, where there is none.
    ///
    /// # Errors
    /// [`JournalError::Open`], [`JournalError::Damaged`], [`JournalError::TooNew`], [`JournalError::Busy`],
    /// [`JournalError::Write`].
    pub fn open_or_create(path: &Path) -> Result<Self> {
        if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder)
                .map_err(|e| JournalError::Open { path: path.to_path_buf(), why: e.to_string() })?;
        }
        Self::with(path, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE)
    }

    /// Opens a journal that must be there.
    ///
    /// # Errors
    /// [`JournalError::Missing`], else as [`Journal::open_or_create`].
    pub fn open(path: &Path) -> Result<Self> {
        if !path.is_file() {
            return Err(JournalError::Missing { path: path.to_path_buf() });
        }
        match Self::with(path, OpenFlags::SQLITE_OPEN_READ_WRITE) {
            Err(JournalError::Open { path, why }) => {
                Self::open_read_only(&path).map_err(|_| JournalError::Open { path, why })
            }
            other => other,
        }
    }

    /// Opens a journal for reading alone, from where nothing can be written (a locked folder, a read-only disk).
    ///
    /// # Errors
    /// As [`Journal::open`]; [`JournalError::Open`] also where the file is of an earlier format or a crash left a log
    /// beside it: both must be worked in first, where it can be written.
    pub fn open_read_only(path: &Path) -> Result<Self> {
        if !path.is_file() {
            return Err(JournalError::Missing { path: path.to_path_buf() });
        }
        file::peek(path)?;
        let refuse = |why: String| Err(JournalError::Open { path: path.to_path_buf(), why });
        if std::fs::metadata(companion(path, "-wal")).is_ok_and(|m| m.len() > 0) {
            return refuse(
                "it cannot be written, and a log beside it must be worked in; copy both elsewhere".to_owned(),
            );
        }
        let db = file::unlocked(path)?;
        let found: i64 =
            db.pragma_query_value(None, "user_version", |r| r.get(0)).map_err(|e| JournalError::sql(path, &e))?;
        if found > FORMAT {
            return Err(JournalError::TooNew { path: path.to_path_buf(), found, known: FORMAT });
        }
        if found < FORMAT {
            return refuse(format!(
                "it cannot be written, and its format {found} must be brought to {FORMAT}; copy it elsewhere"
            ));
        }
        db.set_prepared_statement_cache_capacity(32);
        Ok(Self { db, path: path.to_path_buf(), packer: Packer::new()?, opened: None })
    }

    fn with(path: &Path, flags: OpenFlags) -> Result<Self> {
        file::peek(path)?;
        file::log_belongs(path)?;
        // Between looking at the name and opening it the file may change: seen twice the same, it was that one.
        let before = Identity::at(path);
        let sql = |e: rusqlite::Error| JournalError::sql(path, &e);
        let mut db = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX).map_err(sql)?;
        db.busy_timeout(PATIENCE).map_err(sql)?;
        let id: i64 = db.pragma_query_value(None, "application_id", |r| r.get(0)).map_err(sql)?;
        if id != 0 && id != APPLICATION_ID {
            let why = "it is a database of another program, not a journal".to_owned();
            return Err(JournalError::Damaged { path: path.to_path_buf(), why });
        }
        let mode: String = db.pragma_update_and_check(None, "journal_mode", "wal", |r| r.get(0)).map_err(sql)?;
        if mode != "wal" {
            let why = format!("the file system has no write-ahead log (it offers {mode:?})");
            return Err(JournalError::Open { path: path.to_path_buf(), why });
        }
        db.execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA secure_delete = ON;")
            .map_err(sql)?;
        db.set_prepared_statement_cache_capacity(32);
        migrate(&mut db, path)?;
        // The log is there from the first reading on, and stays as long as this connection.
        db.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(())).map_err(sql)?;
        let now = Identity::at(path);
        if now.is_none() || before.is_some_and(|b| Some(b) != now) {
            return Err(JournalError::Moved { path: path.to_path_buf() });
        }
        let opened = Some([now, Identity::at(&companion(path, "-wal"))]);
        Ok(Self { db, path: path.to_path_buf(), packer: Packer::new()?, opened })
    }

    /// The name still leads to the file that was opened, and to its log.
    ///
    /// # Errors
    /// [`JournalError::Moved`]; [`JournalError::Open`] where the journal was opened for reading alone.
    pub(crate) fn still_there(&self) -> Result<()> {
        let Some(opened) = &self.opened else {
            let why = "it is on a place that cannot be written, so it is only read".to_owned();
            return Err(JournalError::Open { path: self.path.clone(), why });
        };
        let now = [Identity::at(&self.path), Identity::at(&companion(&self.path, "-wal"))];
        if now == *opened { Ok(()) } else { Err(JournalError::Moved { path: self.path.clone() }) }
    }

    /// Whether the name still leads to the file that was opened; a journal opened for reading alone is taken at its word.
    pub fn is_current(&self) -> bool {
        self.opened.is_none() || self.still_there().is_ok()
    }

    /// Begins a change of the file, once it is known to be the right one.
    pub(crate) fn begin(&mut self) -> Result<Transaction<'_>> {
        self.still_there()?;
        let path = &self.path;
        self.db.transaction_with_behavior(TransactionBehavior::Immediate).map_err(|e| JournalError::sql(path, &e))
    }

    /// Makes it one file without a log, and closes it.
    pub(crate) fn into_one_file(self) -> Result<()> {
        self.db.pragma_update_and_check(None, "journal_mode", "delete", |_| Ok(())).map_err(|e| self.sql(&e))?;
        let path = self.path;
        self.db.close().map_err(|(_, e)| JournalError::sql(&path, &e))
    }

    /// Where the journal is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    pub(crate) fn sql(&self, e: &rusqlite::Error) -> JournalError {
        JournalError::sql(&self.path, e)
    }

    /// Adds a scored take. When this returns, the take is on the disk. The same file for the same drill is one take: a
    /// new score, or other words beside it, replace the old ones, which stay on the shelf until [`Journal::compact`].
    ///
    /// # Errors
    /// [`JournalError::OtherPlayer`], [`JournalError::Record`], [`JournalError::Moved`], [`JournalError::Busy`],
    /// [`JournalError::Write`].
    pub fn add(&mut self, record: &TakeRecord, report: &ScoreReport) -> Result<Added> {
        // The waveform's outline can be had from the audio file again and is larger than all the rest.
        let report = ScoreReport { waveform: None, ..report.clone() };
        let text = serde_json::to_string(&report).map_err(|e| JournalError::Record(e.to_string()))?;
        self.add_text(record, &report, &text)
    }

    /// As [`Journal::add`], with the score's JSON as it is to be kept.
    pub(crate) fn add_text(&mut self, record: &TakeRecord, report: &ScoreReport, text: &str) -> Result<Added> {
        let record = &TakeRecord { player: tidy_name(&record.player), ..record.clone() };
        let drill = check(record)?;
        let body = self.packer.pack(text)?;
        let path = self.path.clone();
        let fail = move |e: rusqlite::Error| JournalError::sql(&path, &e);
        let step = self.begin()?;
        let hash = drill_hash(&drill);
        let added = match find(&step, &record.audio_sha256, &hash).map_err(&fail)? {
            Some((take, player)) if player_key(&player) != player_key(&record.player) => {
                return Err(JournalError::OtherPlayer { take, player });
            }
            Some((take, _)) => {
                let (packing, old) = stored(&step, take).map_err(&fail)?;
                let before = crate::record::record(&step, take).map_err(&fail)?;
                if same_words(&before, record) && unpack(packing, &old).is_ok_and(|old| same_score(&old, text)) {
                    // The recording may have been moved or renamed: that is no new score.
                    relocate(&step, take, &record.path, &body).map_err(&fail)?;
                    step.commit().map_err(&fail)?;
                    self.still_there()?;
                    return Ok(Added::Same(take));
                }
                let action = new_action(&step, &format!("scoring take {take} again")).map_err(&fail)?;
                shelve(&step, action, take).map_err(&fail)?;
                step.execute("DELETE FROM take WHERE id = ?1", [take]).map_err(&fail)?;
                Added::Rescored(take)
            }
            None => Added::New(0),
        };
        let id = match added {
            Added::New(_) => None,
            other => Some(other.take()),
        };
        let take = insert(&step, id, record, &drill, &hash, report, (PACKING, &body)).map_err(&fail)?;
        seal::put(&step, take).map_err(&fail)?;
        step.commit().map_err(&fail)?;
        // What was written into a file that nobody will find again is not kept.
        self.still_there()?;
        Ok(if id.is_some() { Added::Rescored(take) } else { Added::New(take) })
    }

    /// The take's number if this recording of this drill is in the journal.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn find(&self, audio_sha256: &str, drill: &Drill) -> Result<Option<i64>> {
        let found = find(&self.db, audio_sha256, &drill_hash(drill)).map_err(|e| self.sql(&e))?;
        Ok(found.map(|(take, _)| take))
    }
}

/// Whether a record can be stored; its drill.
fn check(record: &TakeRecord) -> Result<Drill> {
    if player_key(&record.player).is_empty() {
        return Err(JournalError::Record("a take needs a player's name".to_owned()));
    }
    let hash = &record.audio_sha256;
    if hash.len() != 64 || !hash.bytes().all(|b| b.is_ascii_hexdigit()) {
        return Err(JournalError::Record(format!("{hash:?} is no SHA-256 of an audio file (64 hexadecimal digits)")));
    }
    Drill::parse(&record.drill, "the record's drill").map_err(|e| JournalError::Record(e.to_string()))
}

fn find(db: &Connection, audio: &str, drill_hash: &str) -> rusqlite::Result<Option<(i64, String)>> {
    db.prepare_cached(
        "SELECT t.id, p.name FROM take t JOIN drill d ON d.id = t.drill JOIN player p ON p.id = t.player
         WHERE t.audio_sha256 = ?1 AND d.hash = ?2",
    )?
    .query_row([audio, drill_hash], |r| Ok((r.get(0)?, r.get(1)?)))
    .optional()
}

/// Whether all that is kept beside the score is the same, but for the spelling of the player, the place of the file and the
/// name of the drill.
fn same_words(before: &TakeRecord, now: &TakeRecord) -> bool {
    let (player, drill, path) = (before.player.clone(), before.drill.clone(), before.path.clone());
    *before == TakeRecord { player, drill, path, tags: tidy_tags(&now.tags), ..now.clone() }
}

/// Whether two scores are the same to the letter, but for the path of the take.
fn same_score(old: &str, new: &str) -> bool {
    #[derive(serde::Deserialize)]
    struct Score {
        take: Take,
    }
    #[derive(serde::Deserialize)]
    struct Take {
        path: String,
    }
    let field = |text: &str| -> Option<String> {
        let score: Score = serde_json::from_str(text).ok()?;
        Some(format!("\"path\":{}", serde_json::to_string(&score.take.path).ok()?))
    };
    old == new || field(old).zip(field(new)).is_some_and(|(a, b)| old.replacen(&a, &b, 1) == new)
}

/// Writes where the recording is now, in the record and in the score.
fn relocate(db: &Connection, take: i64, path: &str, body: &[u8]) -> rusqlite::Result<()> {
    db.prepare_cached("UPDATE take SET path = ?2 WHERE id = ?1 AND path <> ?2")?.execute(params![take, path])?;
    db.prepare_cached("UPDATE report SET packing = ?2, body = ?3 WHERE take = ?1 AND body <> ?3")?
        .execute(params![take, PACKING, body])?;
    seal::put(db, take)
}

fn stored(db: &Connection, take: i64) -> rusqlite::Result<(i64, Vec<u8>)> {
    let read = db
        .prepare_cached("SELECT packing, body FROM report WHERE take = ?1")?
        .query_row([take], |r| Ok((r.get(0)?, r.get(1)?)))
        .optional()?;
    Ok(read.unwrap_or_default())
}

/// Begins something that undo can take back.
pub(crate) fn new_action(db: &Connection, what: &str) -> rusqlite::Result<i64> {
    db.execute("INSERT INTO action (what) VALUES (?1)", [what])?;
    Ok(db.last_insert_rowid())
}

/// Copies a take to the shelf.
pub(crate) fn shelve(db: &Connection, action: i64, take: i64) -> rusqlite::Result<()> {
    let record = crate::record::record(db, take)?;
    let text = serde_json::to_string(&record).map_err(|e| rusqlite::Error::ToSqlConversionFailure(e.into()))?;
    let (packing, body) = stored(db, take)?;
    let sum = seal::of_shelved(&text, packing, &body).unwrap_or_default();
    db.prepare_cached(
        "INSERT INTO shelf (action, take, record, packing, body, sha256) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?
    .execute(params![action, take, text, packing, body, sum])?;
    Ok(())
}

/// Writes a take's rows, under its old number where it has one.
pub(crate) fn insert(
    step: &Transaction<'_>,
    id: Option<i64>,
    record: &TakeRecord,
    drill: &Drill,
    hash: &str,
    report: &ScoreReport,
    (packing, body): (i64, &[u8]),
) -> rusqlite::Result<i64> {
    let player = spelling(step, &record.player)?;
    step.prepare_cached(
        "INSERT INTO drill (hash, name, toml) VALUES (?1, ?2, ?3)
         ON CONFLICT (hash) DO UPDATE SET name = excluded.name, toml = excluded.toml WHERE toml <> excluded.toml",
    )?
    .execute([hash, &drill.name, &drill.to_toml()])?;
    let s = &report.summary;
    let tempo = report.timebase.tempo_bpm;
    step.prepare_cached(
        "INSERT INTO take (id, player, drill, audio_sha256, path, recorded_ms, offset_s, day, picked, guitar,
           microphone, note, tempo_mbpm, reached, errors, finding)
         VALUES (?1, ?2, (SELECT id FROM drill WHERE hash = ?3),
           ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)",
    )?
    .execute(params![
        id,
        player,
        hash,
        record.audio_sha256,
        record.path,
        record.recorded_at.milliseconds(),
        record.recorded_at.offset_s(),
        record.recorded_at.day().0,
        record.picked.text(),
        record.guitar,
        record.microphone,
        record.note,
        if tempo.is_finite() { (tempo * 1000.0).round() as i64 } else { 0 },
        s.notes_reached as i64,
        (s.missed + s.wrong_pitch + s.extra) as i64,
        report.findings.first().map_or("", |f| f.text.as_str()),
    ])?;
    let take = id.unwrap_or_else(|| step.last_insert_rowid());
    let mut tag = step.prepare_cached("INSERT INTO tag VALUES (?1, ?2) ON CONFLICT DO NOTHING")?;
    for name in record.tags.iter().map(|t| t.trim()).filter(|t| !t.is_empty()) {
        tag.execute(params![take, name])?;
    }
    step.prepare_cached("INSERT INTO report VALUES (?1, ?2, ?3)")?.execute(params![take, packing, body])?;
    figures::store(step, take, report)?;
    found::store(step, take, report)?;
    Ok(take)
}
