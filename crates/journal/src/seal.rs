//! A checksum on every stored record, by which a change that nobody made is found: SQLite's own check sees its pages'
//! structure and not what they say.
//!
//! It is SHA-256 over what a take says, field by field, and not over how a format of the file lays it out: player,
//! identity of the drill ([`drill_hash`]), recording, path, time, words, tags sorted, and the score's JSON to the letter. A
//! task's is over all that it says.

use crate::error::{JournalError, Result};
use crate::model::{TakeRecord, TaskRecord, drill_hash, hex};
use crate::pack::unpack;
use crate::when::Day;
use rusqlite::{Connection, OptionalExtension};
use sha2::{Digest, Sha256};
use takegauge_drill::Drill;

/// The checksum of a record and the text of its score.
///
/// # Errors
/// [`JournalError::Record`] where its drill cannot be read.
pub(crate) fn of(record: &TakeRecord, score: &str) -> Result<String> {
    let drill = Drill::parse(&record.drill, "the record's drill").map_err(|e| JournalError::Record(e.to_string()))?;
    let mut tags = record.tags.clone();
    tags.sort();
    let fields = [
        record.player.as_str(),
        &drill_hash(&drill),
        &record.audio_sha256,
        &record.path,
        &record.recorded_at.to_string(),
        record.picked.text(),
        &record.guitar,
        &record.microphone,
        &record.note,
    ];
    Ok(sum(fields.into_iter().chain(tags.iter().map(String::as_str)).chain([score])))
}

/// The checksum of a task.
pub(crate) fn of_task(task: &TaskRecord) -> String {
    let tempo = task.tempo_bpm.map_or(String::new(), |t| format!("{t:.3}"));
    let day = |day: Option<Day>| day.map_or(String::new(), |d| d.0.to_string());
    let (drill, days) = (task.drill.as_deref().unwrap_or_default(), [Some(task.set), task.due, task.done].map(day));
    let fields = [&task.player, task.what.as_str(), drill, &tempo, &days[0], &days[1], &days[2]];
    sum(fields.into_iter())
}

/// SHA-256 over texts, each with its length before it, so that none can pass for the next one's beginning.
fn sum<'a>(fields: impl Iterator<Item = &'a str>) -> String {
    let mut hash = Sha256::new();
    for field in fields {
        hash.update((field.len() as u64).to_le_bytes());
        hash.update(field.as_bytes());
    }
    hex(&hash.finalize())
}

/// Seals a take as it is stored now.
pub(crate) fn put(db: &Connection, take: i64) -> rusqlite::Result<()> {
    let sum = of_stored(db, take).map_err(|e| rusqlite::Error::ToSqlConversionFailure(e.into()))?;
    db.prepare_cached("INSERT OR REPLACE INTO seal VALUES (?1, ?2)")?.execute(rusqlite::params![take, sum])?;
    Ok(())
}

/// The checksum of what is stored of a take.
///
/// # Errors
/// [`JournalError::Record`] where it cannot be read.
pub(crate) fn of_stored(db: &Connection, take: i64) -> Result<String> {
    let bad = |e: &dyn std::fmt::Display| JournalError::Record(e.to_string());
    let record = crate::record::record(db, take).map_err(|e| bad(&e))?;
    let (packing, body): (i64, Vec<u8>) = db
        .prepare_cached("SELECT packing, body FROM report WHERE take = ?1")
        .and_then(|mut q| q.query_row([take], |r| Ok((r.get(0)?, r.get(1)?))))
        .map_err(|e| bad(&e))?;
    of(&record, &unpack(packing, &body)?)
}

/// Whether a take is as it was stored; `None` where no checksum of it can be read.
pub(crate) fn holds(db: &Connection, take: i64) -> Option<bool> {
    let sealed: Option<String> = db
        .prepare_cached("SELECT sha256 FROM seal WHERE take = ?1")
        .and_then(|mut q| q.query_row([take], |r| r.get(0)).optional())
        .ok()?;
    let sealed = sealed?;
    Some(of_stored(db, take).is_ok_and(|now| now == sealed))
}

/// Seals every take and everything on the shelf of a file that had no checksums.
pub(crate) fn fill(db: &Connection) -> rusqlite::Result<()> {
    let takes: Vec<i64> = {
        let mut query = db.prepare("SELECT take FROM report ORDER BY take")?;
        query.query_map([], |r| r.get(0))?.collect::<rusqlite::Result<_>>()?
    };
    for take in takes {
        // What cannot be read cannot be sealed; `check` names it.
        if let Ok(sum) = of_stored(db, take) {
            db.execute("INSERT OR REPLACE INTO seal VALUES (?1, ?2)", rusqlite::params![take, sum])?;
        }
    }
    let shelved: Vec<(i64, i64, String, i64, Vec<u8>)> = {
        let mut query = db.prepare("SELECT action, take, record, packing, body FROM shelf")?;
        query
            .query_map([], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?, r.get(4)?)))?
            .collect::<rusqlite::Result<_>>()?
    };
    for (action, take, record, packing, body) in shelved {
        if let Some(sum) = of_shelved(&record, packing, &body) {
            db.execute(
                "UPDATE shelf SET sha256 = ?3 WHERE action = ?1 AND take = ?2",
                rusqlite::params![action, take, sum],
            )?;
        }
    }
    Ok(())
}

/// The checksum of a row of the shelf; `None` where it cannot be read.
pub(crate) fn of_shelved(record: &str, packing: i64, body: &[u8]) -> Option<String> {
    let record: TakeRecord = serde_json::from_str(record).ok()?;
    of(&record, &unpack(packing, body).ok()?).ok()
}
