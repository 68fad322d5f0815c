//! Takes as they are listed, and one take whole.

use crate::error::{JournalError, Result};
use crate::figures::value_column;
use crate::journal::Journal;
use crate::model::{Filter, Picked, TakeRecord, TakeRow};
use crate::names::Names;
use crate::pack::unpack;
use crate::query::count;
use crate::record::{record, recorded};
use rusqlite::{OptionalExtension, params_from_iter};
use std::collections::BTreeMap;
use takegauge_drill::Drill;
use takegauge_review::declared::SPREAD;
use takegauge_review::{GroupKey, ScoreReport};

impl Journal {
    /// Takes in the order recorded.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn list(&self, filter: &Filter) -> Result<Vec<TakeRow>> {
        self.list_of(filter).map_err(|e| self.sql(&e))
    }

    fn list_of(&self, filter: &Filter) -> rusqlite::Result<Vec<TakeRow>> {
        let names = Names::read(&self.db)?;
        let mut tags: BTreeMap<i64, Vec<String>> = BTreeMap::new();
        let mut query = self.db.prepare("SELECT take, name FROM tag ORDER BY take, name")?;
        for row in query.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))? {
            let (take, name) = row?;
            tags.entry(take).or_default().push(name);
        }
        let (clause, values) = filter.clause();
        let spread = value_column(&SPREAD);
        let mut query = self.db.prepare(&format!(
            "SELECT t.id, p.name, d.name, d.hash, t.recorded_ms, t.offset_s, t.path, t.tempo_mbpm, t.reached, t.errors,
               t.picked, t.guitar, t.microphone, t.note, t.finding,
               (SELECT f.{spread} FROM figure f WHERE f.take = t.id AND f.note_group =
                 (SELECT id FROM note_group WHERE name = '{}')),
               (SELECT f.{spread} FROM figure f WHERE f.take = t.id AND f.note_group =
                 (SELECT id FROM note_group WHERE name = '{}'))
             FROM take t JOIN player p ON p.id = t.player JOIN drill d ON d.id = t.drill
             WHERE {clause} ORDER BY t.recorded_ms, t.id",
            GroupKey::Change,
            GroupKey::WholeTake
        ))?;
        let rows = query.query_map(params_from_iter(values), |r| {
            let take = r.get(0)?;
            let recorded_at = recorded(r.get(4)?, r.get(5)?);
            let hash: String = r.get(3)?;
            let of_changes: Option<i64> = r.get(15)?;
            let spread = if of_changes.is_some() { of_changes } else { r.get(16)? };
            Ok(TakeRow {
                take,
                player: names.of(&r.get::<_, String>(1)?),
                drill: r.get(2)?,
                drill_id: hash.chars().take(12).collect(),
                day: recorded_at.day(),
                recorded_at,
                path: r.get(6)?,
                tempo_bpm: r.get::<_, i64>(7)? as f64 / 1000.0,
                notes: count(r, 8)?,
                errors: count(r, 9)?,
                spread_ms: spread.map(|s| s as f64 / 1000.0),
                spread_of: if of_changes.is_some() { GroupKey::Change } else { GroupKey::WholeTake },
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
        let report = ScoreReport::from_json(&text).map_err(|e| unreadable(&e))?;
        let drill = Drill::parse(&record.drill, "the journal").map_err(|e| unreadable(&e))?;
        Ok((record, drill, report))
    }
}
