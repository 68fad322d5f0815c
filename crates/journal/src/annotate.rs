//! Changing what stands beside a take's score.

use crate::error::{JournalError, Result};
use crate::journal::{Journal, new_action, shelve};
use rusqlite::params;

impl Journal {
    /// Gives a take another note and other tags; [`Journal::undo`] brings the former ones back.
    ///
    /// # Errors
    /// [`JournalError::NoTake`], [`JournalError::Moved`], [`JournalError::Busy`], [`JournalError::Write`].
    pub fn annotate(&mut self, take: i64, note: &str, tags: &[String]) -> Result<()> {
        let path = self.path.clone();
        let fail = move |e: rusqlite::Error| JournalError::sql(&path, &e);
        let step = self.begin()?;
        let known: bool =
            step.query_row("SELECT EXISTS (SELECT 1 FROM take WHERE id = ?1)", [take], |r| r.get(0)).map_err(&fail)?;
        if !known {
            return Err(JournalError::NoTake(take));
        }
        let change = || -> rusqlite::Result<()> {
            let action = new_action(&step, &format!("another note or other tags for take {take}"))?;
            shelve(&step, action, take)?;
            step.execute("UPDATE take SET note = ?2 WHERE id = ?1", params![take, note])?;
            step.execute("DELETE FROM tag WHERE take = ?1", [take])?;
            for name in tags.iter().map(|t| t.trim()).filter(|t| !t.is_empty()) {
                step.execute("INSERT INTO tag VALUES (?1, ?2) ON CONFLICT DO NOTHING", params![take, name])?;
            }
            crate::seal::put(&step, take)
        };
        change().map_err(&fail)?;
        step.commit().map_err(&fail)?;
        self.still_there()
    }
}
