//! A take's record out of its rows.

use crate::model::{Picked, TakeRecord};
use crate::when::RecordedAt;
use rusqlite::Connection;

/// Stored times were checked on the way in; a damaged one reads as the epoch rather than losing the take.
pub(crate) fn recorded(milliseconds: i64, offset_s: i32) -> RecordedAt {
    RecordedAt::new(milliseconds, offset_s).unwrap_or(RecordedAt::EPOCH)
}

/// A take's record.
pub(crate) fn record(db: &Connection, take: i64) -> rusqlite::Result<TakeRecord> {
    let tags = tags(db, take)?;
    Ok(TakeRecord { tags, ..record_without_tags(db, take)? })
}

fn tags(db: &Connection, take: i64) -> rusqlite::Result<Vec<String>> {
    let mut query = db.prepare_cached("SELECT name FROM tag WHERE take = ?1 ORDER BY name")?;
    query.query_map([take], |r| r.get(0))?.collect()
}

/// A take's record but for its tags, which lie in a table of their own.
pub(crate) fn record_without_tags(db: &Connection, take: i64) -> rusqlite::Result<TakeRecord> {
    db.prepare_cached(
        "SELECT p.name, d.toml, t.audio_sha256, t.path, t.recorded_ms, t.offset_s, t.picked, t.guitar, t.microphone,
           t.note FROM take t JOIN player p ON p.id = t.player JOIN drill d ON d.id = t.drill WHERE t.id = ?1",
    )?
    .query_row([take], |r| {
        Ok(TakeRecord {
            player: r.get(0)?,
            drill: r.get(1)?,
            audio_sha256: r.get(2)?,
            path: r.get(3)?,
            recorded_at: recorded(r.get(4)?, r.get(5)?),
            picked: Picked::read(&r.get::<_, String>(6)?),
            guitar: r.get(7)?,
            microphone: r.get(8)?,
            note: r.get(9)?,
            tags: Vec::new(),
        })
    })
}
