//! Asking the journal: which takes, and the figures of their groups of notes.

use crate::error::Result;
use crate::figures::Columns;
use crate::journal::Journal;
use crate::model::{DrillRow, Filter, Picked, TakeRow, drill_hash};
use crate::names::player_key;
use crate::when::Day;
use rusqlite::types::{Type, Value};
use rusqlite::{Row, params_from_iter};
use std::path::Path;
use std::sync::Arc;
use takegauge_drill::Drill;
use takegauge_review::history::{Found, FoundTake, TakePoint};
use takegauge_review::{Figures, GroupKey, Measure, NoSuchGroup};

/// One group of notes of one take.
#[derive(Debug, Clone, PartialEq)]
pub struct FigureRow {
    /// The take.
    pub take: Arc<TakeRow>,
    /// Which notes.
    pub group: GroupKey,
    /// As a player reads it.
    pub label: String,
    /// Its figures.
    pub figures: Figures,
}

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
            put("t.player IN (SELECT id FROM player WHERE key = ?)", player_key(player).into());
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
    /// The figures of one group that histories look at, in each take that has it, in the order recorded.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn points(&self, filter: &Filter, group: GroupKey) -> Result<Vec<TakePoint>> {
        let (clause, mut values) = filter.clause();
        values.push(group.to_string().into());
        let columns = Columns::of_histories();
        let read = || -> rusqlite::Result<Vec<TakePoint>> {
            let mut query = self.db.prepare(&format!(
                "SELECT t.id, t.day, t.tempo_mbpm, t.picked, t.errors, t.reached, {} FROM take t JOIN figure f
                   ON f.take = t.id AND f.note_group = (SELECT id FROM note_group WHERE name = ?{})
                 WHERE {clause} ORDER BY t.recorded_ms, t.id",
                columns.sql(),
                values.len()
            ))?;
            // Takes of one day follow each other.
            let (mut written, mut date) = (None, String::new());
            let rows = query.query_map(params_from_iter(&values), |r| {
                let day = r.get(1)?;
                if written != Some(day) {
                    (written, date) = (Some(day), Day(day).to_string());
                }
                Ok(TakePoint {
                    take: r.get(0)?,
                    day,
                    date: date.clone(),
                    tempo_bpm: r.get::<_, i64>(2)? as f64 / 1000.0,
                    picked_best: match Picked::read(&r.get::<_, String>(3)?) {
                        Picked::All => Some(false),
                        Picked::Best => Some(true),
                        Picked::Unknown => None,
                    },
                    take_errors: count(r, 4)?,
                    take_notes: count(r, 5)?,
                    figures: columns.read(r, 6)?,
                })
            })?;
            rows.collect()
        };
        read().map_err(|e| self.sql(&e))
    }

    /// Every group of every take, takes in the order recorded.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn figure_rows(&self, filter: &Filter) -> Result<Vec<FigureRow>> {
        let takes = self.list(filter)?;
        let columns = Columns::all();
        let read = || -> rusqlite::Result<Vec<FigureRow>> {
            let mut query = self.db.prepare(&format!(
                "SELECT g.name, g.label, {} FROM figure f JOIN note_group g ON g.id = f.note_group
                 WHERE f.take = ?1 ORDER BY g.id",
                columns.sql()
            ))?;
            let mut all = Vec::new();
            for take in takes {
                let take = Arc::new(take);
                let rows = query.query_map([take.take], |r| {
                    Ok(FigureRow {
                        take: Arc::clone(&take),
                        group: key(r, 0)?,
                        label: r.get(1)?,
                        figures: columns.read(r, 2)?,
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

    /// Takes with what was found in them, in the order recorded.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn findings(&self, filter: &Filter) -> Result<Vec<FoundTake>> {
        let (clause, values) = filter.clause();
        let read = || -> rusqlite::Result<Vec<FoundTake>> {
            let mut found =
                self.db.prepare("SELECT note_group, measure, text FROM finding WHERE take = ?1 ORDER BY place")?;
            let mut query = self.db.prepare(&format!(
                "SELECT t.id, t.day, t.tempo_mbpm, t.reached, t.errors FROM take t WHERE {clause}
                 ORDER BY t.recorded_ms, t.id"
            ))?;
            let rows = query.query_map(params_from_iter(&values), |r| {
                let take: i64 = r.get(0)?;
                let day: i32 = r.get(1)?;
                // What a later version of the program finds, and this one does not know, is passed over.
                let findings = found.query_map([take], |f| {
                    let (group, measure): (String, String) = (f.get(0)?, f.get(1)?);
                    let known = group.parse().ok().zip(Measure::named(&measure));
                    Ok(known.zip(Some(f.get(2)?)).map(|((group, measure), text)| Found { group, measure, text }))
                })?;
                Ok(FoundTake {
                    take,
                    day,
                    date: Day(day).to_string(),
                    tempo_bpm: r.get::<_, i64>(2)? as f64 / 1000.0,
                    notes: count(r, 3)?,
                    errors: count(r, 4)?,
                    findings: findings.filter_map(rusqlite::Result::transpose).collect::<rusqlite::Result<_>>()?,
                })
            })?;
            rows.collect()
        };
        read().map_err(|e| self.sql(&e))
    }

    /// The groups that the takes have, with labels, in the order of a report: the whole take first.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn groups(&self, filter: &Filter) -> Result<Vec<(GroupKey, String)>> {
        let (clause, values) = filter.clause();
        let read = || -> rusqlite::Result<Vec<_>> {
            // The first take that has the group will do, so not every figure is looked at.
            let mut query = self.db.prepare(&format!(
                "SELECT g.name, g.label FROM note_group g WHERE EXISTS (SELECT 1 FROM take t JOIN figure f
                   ON f.take = t.id AND f.note_group = g.id WHERE {clause}) ORDER BY g.id"
            ))?;
            query.query_map(params_from_iter(values), |r| Ok((key(r, 0)?, r.get(1)?)))?.collect()
        };
        read().map_err(|e| self.sql(&e))
    }

    /// The drills of the takes and how many takes of each, the drills by name.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn drills_of(&self, filter: &Filter) -> Result<Vec<(DrillRow, usize)>> {
        let (clause, values) = filter.clause();
        let read = || -> rusqlite::Result<Vec<_>> {
            let mut query = self.db.prepare(&format!(
                "SELECT d.id, d.hash, d.name, d.toml, count(*) FROM take t JOIN drill d ON d.id = t.drill
                 WHERE {clause} GROUP BY d.id ORDER BY d.name, d.id"
            ))?;
            query.query_map(params_from_iter(values), |r| Ok((drill_row(r)?, count(r, 4)?)))?.collect()
        };
        read().map_err(|e| self.sql(&e))
    }

    /// The drills that a name, a file, a built-in drill or the start of an id stands for; none where there is no such.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn drills_called(&self, named: &Path) -> Result<Vec<i64>> {
        let known = self.drills()?;
        let text = named.to_string_lossy();
        let words = |t: &str| -> Vec<String> {
            t.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_lowercase).collect()
        };
        let is_id = text.len() >= 6 && text.bytes().all(|b| b.is_ascii_hexdigit());
        let called =
            |d: &&DrillRow| words(&d.name) == words(&text) || (is_id && d.hash.starts_with(&text.to_lowercase()));
        let ids: Vec<i64> = known.iter().filter(called).map(|d| d.id).collect();
        match Drill::open(named) {
            Ok(drill) if ids.is_empty() => {
                let hash = drill_hash(&drill);
                Ok(known.iter().filter(|d| d.hash == hash).map(|d| d.id).collect())
            }
            _ => Ok(ids),
        }
    }

    /// All drills, by name.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn drills(&self) -> Result<Vec<DrillRow>> {
        let read = || -> rusqlite::Result<Vec<DrillRow>> {
            let mut query = self.db.prepare("SELECT id, hash, name, toml FROM drill ORDER BY name, id")?;
            query.query_map([], drill_row)?.collect()
        };
        read().map_err(|e| self.sql(&e))
    }
}

fn drill_row(r: &Row<'_>) -> rusqlite::Result<DrillRow> {
    Ok(DrillRow { id: r.get(0)?, hash: r.get(1)?, name: r.get(2)?, toml: r.get(3)? })
}

fn key(row: &Row<'_>, column: usize) -> rusqlite::Result<GroupKey> {
    let unknown = |e: NoSuchGroup| rusqlite::Error::FromSqlConversionFailure(column, Type::Text, Box::new(e));
    row.get::<_, String>(column)?.parse().map_err(unknown)
}

pub(crate) fn count(row: &Row<'_>, column: usize) -> rusqlite::Result<usize> {
    row.get::<_, i64>(column).map(|n| usize::try_from(n).unwrap_or(0))
}
