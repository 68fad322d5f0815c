//! The journal as JSON Lines, out and in without loss.

use crate::error::{JournalError, Result};
use crate::journal::{Added, Journal};
use crate::model::{Filter, TakeRecord, TaskRecord};
use crate::tasks::TaskAdded;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::io::{BufRead, ErrorKind, Read, Write};
use takegauge_review::ScoreReport;

/// The value of `schema` in each line.
pub const TAKE_SCHEMA: &str = "takegauge/journal-take/1";

/// The same in the lines of tasks, which come after all takes.
pub const TASK_SCHEMA: &str = "takegauge/journal-task/1";

#[derive(Serialize, Deserialize)]
struct Line<'a> {
    schema: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    take: Option<TakeRecord>,
    /// The score as it is stored, to the letter.
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    score: Option<&'a RawValue>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    task: Option<TaskRecord>,
}

/// What a line of an import became.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Imported<'a> {
    /// A take.
    Take(Added, &'a TakeRecord),
    /// A task.
    Task(TaskAdded, &'a TaskRecord),
}

/// What an export came to.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Exported {
    /// Takes written.
    pub takes: usize,
    /// Tasks written.
    pub tasks: usize,
    /// One sentence for each take that could not be read.
    pub unreadable: Vec<String>,
}

/// Longest line that is read: two hours of fast playing make 80 MB.
const LONGEST_LINE: u64 = 100 << 20;

/// A task as a line.
fn task_line(task: TaskRecord) -> Result<String> {
    let line = Line { schema: TASK_SCHEMA.to_owned(), take: None, score: None, task: Some(task) };
    serde_json::to_string(&line).map_err(|e| JournalError::Record(e.to_string()))
}

impl Journal {
    /// Writes one line a take, in the order recorded; then, where takes are chosen by player alone or not at all, one line
    /// a task of that player or of all. A take that cannot be read is passed over and named.
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
        if (Filter { player: None, ..filter.clone() }).is_empty() {
            for task in self.tasks(filter.player.as_deref()).map_err(Ok)? {
                let line = task_line(task.record).map_err(Ok)?;
                writeln!(out, "{line}").map_err(Err)?;
                exported.tasks += 1;
            }
        }
        Ok(exported)
    }

    fn line(&self, take: i64) -> Result<String> {
        let unreadable = |e: serde_json::Error| JournalError::Record(format!("its score cannot be written: {e}"));
        let (record, text) = self.take_text(take)?;
        let score: &RawValue = serde_json::from_str(&text).map_err(unreadable)?;
        let line = Line { schema: TAKE_SCHEMA.to_owned(), take: Some(record), score: Some(score), task: None };
        serde_json::to_string(&line).map_err(unreadable)
    }

    /// Reads such lines; `told` hears of each take and task once it is on the disk. Empty lines are passed over.
    ///
    /// # Errors
    /// [`JournalError::Line`] at the first line that cannot be read; the lines before it are in the journal. Else as
    /// [`Journal::add`].
    pub fn import_lines(&mut self, input: &mut dyn BufRead, told: &mut dyn FnMut(Imported<'_>)) -> Result<usize> {
        let mut text = String::new();
        let mut n = 0;
        for line in 1.. {
            text.clear();
            let read = Read::take(&mut *input, LONGEST_LINE).read_line(&mut text);
            let bad = |why: String| JournalError::Line { line, why };
            let read = read.map_err(|e| match e.kind() {
                ErrorKind::InvalidData => bad("this is no text; is it a file that `journal export` wrote?".to_owned()),
                _ => bad(format!("it cannot be read: {e}")),
            })?;
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
            let mended = |e: JournalError| match e {
                JournalError::Record(why) => bad(why),
                other @ JournalError::OtherPlayer { .. } => bad(other.to_string()),
                other => other,
            };
            match (parsed.schema.as_str(), parsed.take, parsed.score, parsed.task) {
                (TAKE_SCHEMA, Some(take), Some(score), _) => {
                    let report = ScoreReport::from_json(score.get())
                        .map_err(|e| bad(format!("its score cannot be read: {e}")))?;
                    let added = self.add_text(&take, &report, score.get()).map_err(mended)?;
                    told(Imported::Take(added, &take));
                }
                (TASK_SCHEMA, _, _, Some(task)) => {
                    let added = self.put_task(&task, false).map_err(mended)?;
                    told(Imported::Task(added, &task));
                }
                (TAKE_SCHEMA, ..) => return Err(bad("a take needs the fields take and score".to_owned())),
                (TASK_SCHEMA, ..) => return Err(bad("a task needs the field task".to_owned())),
                (other, ..) => {
                    return Err(bad(format!("schema is {other:?}, neither {TAKE_SCHEMA:?} nor {TASK_SCHEMA:?}")));
                }
            }
            n += 1;
        }
        Ok(n)
    }
}
