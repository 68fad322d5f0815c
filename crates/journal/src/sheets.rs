//! The journal as tables of numbers.

use crate::model::TakeRow;
use crate::query::FigureRow;
use std::sync::Arc;
use takegauge_review::sheet::{Sheet, Values};

/// One row a take and group of notes.
///
/// Columns: `take` int64; `player`, `drill`, `drill_id` string; `recorded_at` timestamp (ms, UTC); `utc_offset_s`
/// int32; `day` date (the player's own); `path` string; `tempo_bpm` double; `picked`, `guitar`, `microphone`, `tags`
/// (joined with a comma), `note`, `group`, `label` string; then the figures as they are declared
/// (`takegauge_review::declared`): counts int32, all else double, null where withheld or not known, each followed by the
/// ends of its interval.
pub fn figure_sheet(rows: &[FigureRow]) -> Sheet {
    let takes: Vec<Arc<TakeRow>> = rows.iter().map(|r| Arc::clone(&r.take)).collect();
    of_takes(&takes)
        .with("group", rows, |r| r.group.to_string())
        .with("label", rows, |r| r.label.clone())
        .with_figures(rows, |r| &r.figures)
}

/// One row a take: the same columns up to `note`, then `notes` and `errors` int32, `spread_ms` double, `spread_of` and
/// `finding` string.
pub fn take_sheet(rows: &[TakeRow]) -> Sheet {
    of_takes(rows)
        .with("notes", rows, |r| r.notes)
        .with("errors", rows, |r| r.errors)
        .with_some("spread_ms", rows, |r| r.spread_ms)
        .with("spread_of", rows, |r| r.spread_of.to_string())
        .with("finding", rows, |r| r.finding.clone())
}

fn of_takes<T: AsRef<TakeRow>>(rows: &[T]) -> Sheet {
    let text = |of: fn(&TakeRow) -> String| move |r: &T| of(r.as_ref());
    let recorded = rows.iter().map(|r| Some(r.as_ref().recorded_at.milliseconds())).collect();
    let days = rows.iter().map(|r| Some(r.as_ref().day.0)).collect();
    Sheet::default()
        .with("take", rows, |r| r.as_ref().take)
        .with("player", rows, text(|r| r.player.clone()))
        .with("drill", rows, text(|r| r.drill.clone()))
        .with("drill_id", rows, text(|r| r.drill_id.clone()))
        .put("recorded_at", false, Values::Instant(recorded))
        .with("utc_offset_s", rows, |r| r.as_ref().recorded_at.offset_s())
        .put("day", false, Values::Day(days))
        .with("path", rows, text(|r| r.path.clone()))
        .with_some("tempo_bpm", rows, |r| Some(r.as_ref().tempo_bpm))
        .with("picked", rows, text(|r| r.picked.text().to_owned()))
        .with("guitar", rows, text(|r| r.guitar.clone()))
        .with("microphone", rows, text(|r| r.microphone.clone()))
        .with("tags", rows, text(|r| r.tags.join(",")))
        .with("note", rows, text(|r| r.note.clone()))
}
