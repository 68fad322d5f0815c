//! The journal as JSON Lines, out and in without loss.

use crate::error::{JournalError, Result};
use crate::journal::{Added, Journal};
use crate::model::{Filter, TakeRecord};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::io::{BufRead, Read, Write};
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

/// What an export came to.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Exported {
    /// Takes written.
    pub takes: usize,
    /// One sentence for each take that could not be read.
    pub unreadable: Vec<String>,
}

/// Longest line that is read: two hours of fast playing make 80 MB.
const LONGEST_LINE: u64 = 100 << 20;

impl Journal {
    /// Writes one line a take, in the order recorded. A take that cannot be read is passed over and named.
    ///
    /// # Errors
    /// `Err(Err(_))` is the writer's, `Err(Ok(_))` the journal's.
    pub fn export_lines(
        &self,
        filter: &Filter,
        out: &mut dyn Write,
    ) -> std::result::Result<Exported, std::result::Result<JournalError, std::io::Error>> {
        let takes = self.list(filter).map_err(Ok)?;
        let mut exported = Exported::default();
        for row in &takes {
            match self.line(row.take) {
                Ok(line) => {
                    writeln!(out, "{line}").map_err(Err)?;
                    exported.takes += 1;
                }
                Err(e) => exported.unreadable.push(format!("take {}: {e}", row.take)),
            }
        }
        Ok(exported)
    }

    fn line(&self, take: i64) -> Result<String> {
        let unreadable = |e: serde_json::Error| JournalError::Record(format!("its score cannot be written: {e}"));
        let (record, text) = self.take_text(take)?;
        let score: &RawValue = serde_json::from_str(&text).map_err(unreadable)?;
        let line = Line { schema: TAKE_SCHEMA.to_owned(), take: record, score };
        serde_json::to_string(&line).map_err(unreadable)
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
            let read = Read::take(&mut *input, LONGEST_LINE).read_line(&mut text);
            let bad = |why: String| JournalError::Line { line, why };
            let read = read.map_err(|e| bad(e.to_string()))?;
            if read == 0 {
                break;
            }
            if read as u64 == LONGEST_LINE && !text.ends_with('\n') {
                return Err(bad(format!("it is longer than {} MB, which no take is", LONGEST_LINE >> 20)));
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
