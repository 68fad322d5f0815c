//! Figures of groups in columns that the figures' declarations name: counts as they are, all else in whole thousandths
//! (of a millisecond, a decibel, a per cent), which is what reports are rounded to, so that nothing is rounded twice.

use crate::pack::each_report;
use rusqlite::{Connection, Row, params_from_iter};
use takegauge_review::declared::{FlatColumn, GroupFigure, Part, flat_columns};
use takegauge_review::history::figures_of;
use takegauge_review::{Figures, ScoreReport, Value};

/// A figure's column in the file.
pub(crate) fn column(c: FlatColumn) -> String {
    if c.is_count() { c.name() } else { format!("{}_thousandths", c.name()) }
}

/// The column of a figure without its interval.
pub(crate) fn value_column(figure: &'static GroupFigure) -> String {
    column(FlatColumn { figure, part: Part::Value })
}

/// Some columns of `f`, as SQL, and how a row of them is read.
pub(crate) struct Columns(Vec<FlatColumn>);

impl Columns {
    /// Every figure.
    pub(crate) fn all() -> Self {
        Self(flat_columns().collect())
    }

    /// What a history looks at: what trends follow and sets of takes are compared by, and counts.
    pub(crate) fn of_histories() -> Self {
        let looked_at = |f: &GroupFigure| f.trend.is_some() || f.compared;
        Self(flat_columns().filter(|c| looked_at(c.figure) || c.is_count()).collect())
    }

    pub(crate) fn sql(&self) -> String {
        self.0.iter().map(|c| format!("f.{}", column(*c))).collect::<Vec<_>>().join(", ")
    }

    /// Reads them, the first at `from`.
    pub(crate) fn read(&self, row: &Row<'_>, from: usize) -> rusqlite::Result<Figures> {
        let mut figures = Figures::default();
        let mut at = from;
        for group in self.0.chunk_by(|a, b| a.figure == b.figure) {
            let mut value = Value::default();
            for c in group {
                let whole: Option<i64> = row.get(at)?;
                let number = whole.map(|v| if c.is_count() { v as f64 } else { v as f64 / 1000.0 });
                match c.part {
                    Part::Value => value.value = number,
                    Part::Low => value.low = number,
                    Part::High => value.high = number,
                }
                at += 1;
            }
            figures.set(group[0].figure, value);
        }
        Ok(figures)
    }
}

/// Makes the table anew where its columns are not those of the declared figures, and fills it from the stored reports.
/// A report that cannot be read keeps its take without figures; `check` names it.
pub(crate) fn bring_up(db: &Connection) -> rusqlite::Result<()> {
    if fits(db)? {
        return Ok(());
    }
    let columns: Vec<String> = flat_columns().map(|c| format!("{} INTEGER", column(c))).collect();
    db.execute_batch(&format!(
        "DROP TABLE IF EXISTS figure;
         CREATE TABLE figure (
           take INTEGER NOT NULL REFERENCES take ON DELETE CASCADE, note_group INTEGER NOT NULL REFERENCES note_group,
           {}, PRIMARY KEY (take, note_group)) WITHOUT ROWID;",
        columns.join(", ")
    ))?;
    each_report(db, |take, report| store(db, take, report))
}

/// Whether the table has the columns of the declared figures.
pub(crate) fn fits(db: &Connection) -> rusqlite::Result<bool> {
    let mut query = db.prepare("SELECT name FROM pragma_table_info('figure') WHERE pk = 0 ORDER BY cid")?;
    let there = query.query_map([], |r| r.get(0))?.collect::<rusqlite::Result<Vec<String>>>()?;
    Ok(there.into_iter().eq(flat_columns().map(column)))
}

/// Writes a report's figures.
pub(crate) fn store(db: &Connection, take: i64, report: &ScoreReport) -> rusqlite::Result<()> {
    let columns: Vec<FlatColumn> = flat_columns().collect();
    let names: Vec<String> = columns.iter().map(|c| column(*c)).collect();
    let mut name =
        db.prepare_cached("INSERT INTO note_group (name, label) VALUES (?1, ?2) ON CONFLICT (name) DO NOTHING")?;
    let mut find = db.prepare_cached("SELECT id FROM note_group WHERE name = ?1")?;
    let mut put = db.prepare_cached(&format!(
        "INSERT OR REPLACE INTO figure (take, note_group, {}) VALUES (?, ?{})",
        names.join(", "),
        ", ?".repeat(names.len())
    ))?;
    for (group, label, figures) in figures_of(report) {
        let group = group.to_string();
        name.execute([group.as_str(), label])?;
        let id: i64 = find.query_row([&group], |r| r.get(0))?;
        let whole = |c: &FlatColumn| {
            let scale = if c.is_count() { 1.0 } else { 1000.0 };
            // `as` saturates.
            figures.flat(*c).filter(|v| v.is_finite()).map(|v| (v * scale).round() as i64)
        };
        let values = [Some(take), Some(id)].into_iter().chain(columns.iter().map(whole));
        put.execute(params_from_iter(values))?;
    }
    Ok(())
}
