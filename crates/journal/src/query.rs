//! Asking the journal.

use crate::error::{JournalError, Result};
use crate::figures;
use crate::journal::Journal;
use crate::model::{DrillRow, Filter, Picked, TakeRecord, TakeRow};
use crate::pack::unpack;
use crate::when::{Day, RecordedAt};
use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, Row, params_from_iter};
use std::collections::BTreeMap;
use std::sync::Arc;
use takegauge_drill::Drill;
use takegauge_review::ScoreReport;
use takegauge_review::history::{GroupFigures, TakePoint, WHOLE_TAKE};

/// One group of notes of one take.
#[derive(Debug, Clone, PartialEq)]
pub struct FigureRow {
    /// The take.
    pub take: Arc<TakeRow>,
    /// The group's name.
    pub group: String,
    /// As a player reads it.
    pub label: String,
    /// Its figures.
    pub figures: GroupFigures,
}

/// The group whose scatter stands for a take where it has one.
pub const CHANGES: &str = "change";

impl Filter {
    /// A WHERE clause on `t` (take) and its values.
    pub(crate) fn clause(&self) -> (String, Vec<Value>) {
        let mut parts = vec!["1".to_owned()];
        let mut values: Vec<Value> = Vec::new();
        let mut put = |part: &str, value: Value| {
            values.push(value);
            parts.push(part.replace('?', &format!("?{}", values.len())));
        };
        if let Some(player) = &self.player {
            put("t.player = (SELECT id FROM player WHERE name = ?)", player.clone().into());
        }
        if let Some([low, high]) = self.tempo_bpm {
            put("t.tempo_mbpm >= ?", ((low * 1000.0).round() as i64).into());
            put("t.tempo_mbpm <= ?", ((high * 1000.0).round() as i64).into());
        }
        if let Some(day) = self.since {
            put("t.day >= ?", i64::from(day.0).into());
        }
        if let Some(day) = self.until {
            put("t.day <= ?", i64::from(day.0).into());
        }
        if let Some(tag) = &self.tag {
            put("EXISTS (SELECT 1 FROM tag g WHERE g.take = t.id AND g.name = ?)", tag.clone().into());
        }
        let list = |ids: &[i64]| ids.iter().map(i64::to_string).collect::<Vec<_>>().join(",");
        if let Some(drills) = &self.drills {
            parts.push(format!("t.drill IN ({})", list(drills)));
        }
        if let Some(takes) = &self.takes {
            parts.push(format!("t.id IN ({})", list(takes)));
        }
        (parts.join(" AND "), values)
    }
}

impl Journal {
    /// Takes in the order recorded.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn list(&self, filter: &Filter) -> Result<Vec<TakeRow>> {
        self.list_of(filter).map_err(|e| self.sql(&e))
    }

    fn list_of(&self, filter: &Filter) -> rusqlite::Result<Vec<TakeRow>> {
        let mut tags: BTreeMap<i64, Vec<String>> = BTreeMap::new();
        let mut query = self.db.prepare("SELECT take, name FROM tag ORDER BY take, name")?;
        for row in query.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))? {
            let (take, name) = row?;
            tags.entry(take).or_default().push(name);
        }
        let (clause, values) = filter.clause();
        let mut query = self.db.prepare(&format!(
            "SELECT t.id, p.name, d.name, d.hash, t.recorded_ms, t.offset_s, t.path, t.tempo_mbpm, t.reached, t.errors,
               t.picked, t.guitar, t.microphone, t.note, t.finding,
               (SELECT f.spread_us FROM figure f WHERE f.take = t.id AND f.note_group =
                 (SELECT id FROM note_group WHERE name = '{CHANGES}')),
               (SELECT f.spread_us FROM figure f WHERE f.take = t.id AND f.note_group =
                 (SELECT id FROM note_group WHERE name = '{WHOLE_TAKE}'))
             FROM take t JOIN player p ON p.id = t.player JOIN drill d ON d.id = t.drill
             WHERE {clause} ORDER BY t.recorded_ms, t.id"
        ))?;
        let rows = query.query_map(params_from_iter(values), |r| {
            let take = r.get(0)?;
            let recorded_at = recorded(r.get(4)?, r.get(5)?);
            let hash: String = r.get(3)?;
            let of_changes: Option<i64> = r.get(15)?;
            let spread = if of_changes.is_some() { of_changes } else { r.get(16)? };
            Ok(TakeRow {
                take,
                player: r.get(1)?,
                drill: r.get(2)?,
                drill_id: hash.chars().take(12).collect(),
                day: recorded_at.day(),
                recorded_at,
                path: r.get(6)?,
                tempo_bpm: r.get::<_, i64>(7)? as f64 / 1000.0,
                notes: count(r, 8)?,
                errors: count(r, 9)?,
                spread_ms: spread.map(|s| s as f64 / 1000.0),
                spread_of: if of_changes.is_some() { CHANGES } else { WHOLE_TAKE }.to_owned(),
                picked: Picked::read(&r.get::<_, String>(10)?),
                guitar: r.get(11)?,
                microphone: r.get(12)?,
                note: r.get(13)?,
                finding: r.get(14)?,
                tags: tags.remove(&take).unwrap_or_default(),
            })
        })?;
        rows.collect()
    }

    /// The figures of one group in each take that has it, in the order recorded.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn points(&self, filter: &Filter, group: &str) -> Result<Vec<TakePoint>> {
        let (clause, mut values) = filter.clause();
        values.push(group.to_owned().into());
        let read = || -> rusqlite::Result<Vec<TakePoint>> {
            let mut query = self.db.prepare(&format!(
                "SELECT t.id, t.day, t.tempo_mbpm, t.picked, t.errors, t.reached, {} FROM take t JOIN figure f
                   ON f.take = t.id AND f.note_group = (SELECT id FROM note_group WHERE name = ?{})
                 WHERE {clause} ORDER BY t.recorded_ms, t.id",
                figures::COLUMNS,
                values.len()
            ))?;
            let rows = query.query_map(params_from_iter(&values), |r| {
                let day = r.get(1)?;
                Ok(TakePoint {
                    take: r.get(0)?,
                    day,
                    date: Day(day).to_string(),
                    tempo_bpm: r.get::<_, i64>(2)? as f64 / 1000.0,
                    picked_best: Picked::read(&r.get::<_, String>(3)?) == Picked::Best,
                    take_errors: count(r, 4)?,
                    take_notes: count(r, 5)?,
                    figures: figures::read(r, 6)?,
                })
            })?;
            rows.collect()
        };
        read().map_err(|e| self.sql(&e))
    }

    /// Every group of every take, takes in the order recorded.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn figure_rows(&self, filter: &Filter) -> Result<Vec<FigureRow>> {
        let takes = self.list(filter)?;
        let read = || -> rusqlite::Result<Vec<FigureRow>> {
            let mut query = self.db.prepare(&format!(
                "SELECT g.name, g.label, {} FROM figure f JOIN note_group g ON g.id = f.note_group
                 WHERE f.take = ?1 ORDER BY g.id",
                figures::COLUMNS
            ))?;
            let mut all = Vec::new();
            for take in takes {
                let take = Arc::new(take);
                let rows = query.query_map([take.take], |r| {
                    Ok(FigureRow {
                        take: Arc::clone(&take),
                        group: r.get(0)?,
                        label: r.get(1)?,
                        figures: figures::read(r, 2)?,
                    })
                })?;
                for row in rows {
                    all.push(row?);
                }
            }
            Ok(all)
        };
        read().map_err(|e| self.sql(&e))
    }

    /// The groups that the takes have, with labels and the number of takes, the most frequent first.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn groups(&self, filter: &Filter) -> Result<Vec<(String, String, usize)>> {
        let (clause, values) = filter.clause();
        let read = || -> rusqlite::Result<Vec<_>> {
            let mut query = self.db.prepare(&format!(
                "SELECT g.name, g.label, count(*) FROM take t JOIN figure f ON f.take = t.id
                   JOIN note_group g ON g.id = f.note_group WHERE {clause} GROUP BY g.id ORDER BY count(*) DESC, g.id"
            ))?;
            query.query_map(params_from_iter(values), |r| Ok((r.get(0)?, r.get(1)?, count(r, 2)?)))?.collect()
        };
        read().map_err(|e| self.sql(&e))
    }

    /// All players, by name.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn players(&self) -> Result<Vec<String>> {
        let read = || -> rusqlite::Result<Vec<String>> {
            let mut query = self.db.prepare(
                "SELECT name FROM player p WHERE EXISTS (SELECT 1 FROM take t WHERE t.player = p.id) ORDER BY name",
            )?;
            query.query_map([], |r| r.get(0))?.collect()
        };
        read().map_err(|e| self.sql(&e))
    }

    /// All drills, by name.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn drills(&self) -> Result<Vec<DrillRow>> {
        let read = || -> rusqlite::Result<Vec<DrillRow>> {
            let mut query = self.db.prepare("SELECT id, hash, name, toml FROM drill ORDER BY name, id")?;
            let row = |r: &Row<'_>| Ok(DrillRow { id: r.get(0)?, hash: r.get(1)?, name: r.get(2)?, toml: r.get(3)? });
            query.query_map([], row)?.collect()
        };
        read().map_err(|e| self.sql(&e))
    }

    /// A take's record and the JSON text of its score.
    ///
    /// # Errors
    /// [`JournalError::NoTake`], [`JournalError::Damaged`], [`JournalError::Record`].
    pub fn take_text(&self, take: i64) -> Result<(TakeRecord, String)> {
        let read = || -> rusqlite::Result<Option<(TakeRecord, i64, Vec<u8>)>> {
            let found = self
                .db
                .query_row("SELECT packing, body FROM report WHERE take = ?1", [take], |r| Ok((r.get(0)?, r.get(1)?)))
                .optional()?;
            let Some((packing, body)) = found else { return Ok(None) };
            Ok(Some((record(&self.db, take)?, packing, body)))
        };
        let (record, packing, body) = read().map_err(|e| self.sql(&e))?.ok_or(JournalError::NoTake(take))?;
        Ok((record, unpack(packing, &body)?))
    }

    /// A take's record, its drill and its score.
    ///
    /// # Errors
    /// As [`Journal::take_text`].
    pub fn take(&self, take: i64) -> Result<(TakeRecord, Drill, ScoreReport)> {
        let (record, text) = self.take_text(take)?;
        let unreadable = |e: &dyn std::fmt::Display| JournalError::Record(format!("take {take}: {e}"));
        let report = serde_json::from_str(&text).map_err(|e| unreadable(&e))?;
        let drill = Drill::parse(&record.drill, "the journal").map_err(|e| unreadable(&e))?;
        Ok((record, drill, report))
    }
}

fn count(row: &Row<'_>, column: usize) -> rusqlite::Result<usize> {
    row.get::<_, i64>(column).map(|n| usize::try_from(n).unwrap_or(0))
}

/// Stored times were checked on the way in; a damaged one reads as the epoch rather than losing the take.
fn recorded(milliseconds: i64, offset_s: i32) -> RecordedAt {
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
