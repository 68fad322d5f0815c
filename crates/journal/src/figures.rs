//! Figures of groups in columns: whole microseconds and thousandths, so that nothing is rounded twice.

use rusqlite::{Connection, Row, params};
use takegauge_review::ScoreReport;
use takegauge_review::history::{GroupFigures, figures_of};

/// The columns that [`read`] wants, in its order.
pub(crate) const COLUMNS: &str = "f.n, f.bias_us, f.bias_low_us, f.bias_high_us, f.spread_us, f.spread_low_us, \
    f.spread_high_us, f.slips, f.reached, f.missed, f.wrong_pitch, f.extra, f.smear_us, f.smear_n, f.evenness_us, \
    f.margin_thousandths, f.margin_se_thousandths, f.limit_us";

fn thousandths(value: Option<f64>) -> Option<i64> {
    // `as` saturates.
    value.filter(|v| v.is_finite()).map(|v| (v * 1000.0).round() as i64)
}

fn whole(value: Option<i64>) -> Option<f64> {
    value.map(|v| v as f64 / 1000.0)
}

/// Writes a report's figures.
pub(crate) fn store(db: &Connection, take: i64, report: &ScoreReport) -> rusqlite::Result<()> {
    let mut name =
        db.prepare_cached("INSERT INTO note_group (name, label) VALUES (?1, ?2) ON CONFLICT (name) DO NOTHING")?;
    let mut find = db.prepare_cached("SELECT id FROM note_group WHERE name = ?1")?;
    let mut put = db.prepare_cached(
        "INSERT OR REPLACE INTO figure VALUES (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,?15,?16,?17,?18,?19,?20)",
    )?;
    for (group, label, f) in figures_of(report) {
        let group = group.to_string();
        name.execute([&group, &label])?;
        let id: i64 = find.query_row([&group], |r| r.get(0))?;
        let bias = f.bias_ci95_ms.map(|c| c.map(Some)).unwrap_or([None, None]);
        let spread = f.spread_ci95_ms.unwrap_or([None, None]);
        put.execute(params![
            take,
            id,
            f.n as i64,
            thousandths(f.bias_ms),
            thousandths(bias[0]),
            thousandths(bias[1]),
            thousandths(f.spread_ms),
            thousandths(spread[0]),
            thousandths(spread[1]),
            f.slips as i64,
            f.reached as i64,
            f.missed as i64,
            f.wrong_pitch as i64,
            f.extra as i64,
            thousandths(f.smear_ms),
            f.smear_n as i64,
            thousandths(f.evenness_ms),
            thousandths(f.margin),
            thousandths(f.margin_se),
            thousandths(f.limit_ms),
        ])?;
    }
    Ok(())
}

/// Reads [`COLUMNS`], the first of them at `from`.
pub(crate) fn read(row: &Row<'_>, from: usize) -> rusqlite::Result<GroupFigures> {
    let ms = |k: usize| row.get::<_, Option<i64>>(from + k).map(whole);
    let count = |k: usize| row.get::<_, i64>(from + k).map(|n| usize::try_from(n).unwrap_or(0));
    let (low, high) = (ms(5)?, ms(6)?);
    Ok(GroupFigures {
        n: count(0)?,
        bias_ms: ms(1)?,
        bias_ci95_ms: ms(2)?.zip(ms(3)?).map(|(a, b)| [a, b]),
        spread_ms: ms(4)?,
        spread_ci95_ms: (low.is_some() || high.is_some()).then_some([low, high]),
        slips: count(7)?,
        reached: count(8)?,
        missed: count(9)?,
        wrong_pitch: count(10)?,
        extra: count(11)?,
        smear_ms: ms(12)?,
        smear_n: count(13)?,
        evenness_ms: ms(14)?,
        margin: ms(15)?,
        margin_se: ms(16)?,
        limit_ms: ms(17)?,
    })
}
