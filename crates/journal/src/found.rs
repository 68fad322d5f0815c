//! The findings of each take, in rows of their own: which are still there is asked of many takes at once.

use crate::pack::each_report;
use rusqlite::{Connection, params};
use takegauge_review::ScoreReport;

/// Writes a report's findings.
pub(crate) fn store(db: &Connection, take: i64, report: &ScoreReport) -> rusqlite::Result<()> {
    let mut put = db.prepare_cached("INSERT OR REPLACE INTO finding VALUES (?1, ?2, ?3, ?4, ?5)")?;
    for (place, f) in report.findings.iter().enumerate() {
        put.execute(params![take, place as i64, f.group.to_string(), f.measure.name(), f.text])?;
    }
    Ok(())
}

/// Fills the table of a file that had none. A report that cannot be read keeps its take without them; `check` names it.
pub(crate) fn fill(db: &Connection) -> rusqlite::Result<()> {
    each_report(db, |take, report| store(db, take, report))
}
