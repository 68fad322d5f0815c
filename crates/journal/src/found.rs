//! The findings of each take, in rows of their own: which are still there is asked of many takes at once.

use crate::pack::unpack;
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
    let mut query = db.prepare("SELECT take, packing, body FROM report ORDER BY take")?;
    let mut rows = query.query([])?;
    while let Some(row) = rows.next()? {
        let text = unpack(row.get(1)?, &row.get::<_, Vec<u8>>(2)?).ok();
        if let Some(report) = text.and_then(|t| serde_json::from_str::<ScoreReport>(&t).ok()) {
            store(db, row.get(0)?, &report)?;
        }
    }
    Ok(())
}
