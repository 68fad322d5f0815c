//! The journal as JSON Lines, out and in without loss.

use crate::error::{JournalError, Result};
use crate::journal::{Added, Journal};
use crate::model::{Filter, TakeRecord};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::io::{BufRead, Write};
use takegauge_review::ScoreReport;

/// The value of `schema` in each line.
pub const TAKE_SCHEMA: &str = "takegauge/journal-take/1";

#[derive(Serialize, Deserialize)]
struct Line<'a> {
    schema: String,
    take: TakeRecord,
    /// The score as it is stored, to the letter.
    #[serde(borrow)]
    score: &'a RawValue,
}

impl Journal {
    /// Writes one line a take, in the order recorded.
    ///
    /// # Errors
    /// `Err(Err(_))` is the writer's, `Err(Ok(_))` the journal's.
    pub fn export_lines(
        &self,
        filter: &Filter,
        out: &mut dyn Write,
    ) -> std::result::Result<usize, std::result::Result<JournalError, std::io::Error>> {
        let takes = self.list(filter).map_err(Ok)?;
        for row in &takes {
            let (take, text) = self.take_text(row.take).map_err(Ok)?;
            let unreadable =
                |e: serde_json::Error| Ok(JournalError::Record(format!("take {} cannot be written: {e}", row.take)));
            let score: &RawValue = serde_json::from_str(&text).map_err(unreadable)?;
            let line = Line { schema: TAKE_SCHEMA.to_owned(), take, score };
            let text = serde_json::to_string(&line).map_err(unreadable)?;
            writeln!(out, "{text}").map_err(Err)?;
        }
        Ok(takes.len())
    }

    /// Reads such lines; `told` hears of each take once it is on the disk. Empty lines are passed over.
    ///
    /// # Errors
    /// [`JournalError::Line`] at the first line that cannot be read; the lines before it are in the journal. Else as
    /// [`Journal::add`].
    pub fn import_lines(&mut self, input: &mut dyn BufRead, told: &mut dyn FnMut(Added, &TakeRecord)) -> Result<usize> {
        let mut text = String::new();
        let mut n = 0;
        for line in 1.. {
            text.clear();
            let read = input.read_line(&mut text);
            let bad = |why: String| JournalError::Line { line, why };
            if read.map_err(|e| bad(e.to_string()))? == 0 {
                break;
            }
            if text.trim().is_empty() {
                continue;
            }
            let parsed: Line<'_> = serde_json::from_str(&text).map_err(|e| bad(e.to_string()))?;
            if parsed.schema != TAKE_SCHEMA {
                return Err(bad(format!("schema is {:?}, not {TAKE_SCHEMA:?}", parsed.schema)));
            }
            let report: ScoreReport =
                serde_json::from_str(parsed.score.get()).map_err(|e| bad(format!("its score cannot be read: {e}")))?;
            let added = self.add_text(&parsed.take, &report, parsed.score.get()).map_err(|e| match e {
                JournalError::Record(why) => bad(why),
                other @ JournalError::OtherPlayer { .. } => bad(other.to_string()),
                other => other,
            })?;
            told(added, &parsed.take);
            n += 1;
        }
        Ok(n)
    }
}
