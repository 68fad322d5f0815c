//! Who is in the journal.

use crate::error::Result;
use crate::journal::Journal;
use crate::names::Names;

impl Journal {
    /// How the journal calls the player that a name in whatever spelling stands for; the name itself, tidied, where it
    /// knows nobody of it.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn player_name(&self, name: &str) -> Result<String> {
        Names::read(&self.db).map(|names| names.of(name)).map_err(|e| self.sql(&e))
    }

    /// All players with takes, by name.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn players(&self) -> Result<Vec<String>> {
        self.called("SELECT key, min(name) FROM player p WHERE EXISTS (SELECT 1 FROM take t WHERE t.player = p.id) GROUP BY key")
    }

    /// All players with takes or tasks, by name.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn players_and_students(&self) -> Result<Vec<String>> {
        self.called(
            "SELECT key, min(name) FROM player p WHERE EXISTS (SELECT 1 FROM take t WHERE t.player = p.id)
               OR EXISTS (SELECT 1 FROM task k WHERE k.player = p.id) GROUP BY key",
        )
    }

    fn called(&self, which: &str) -> Result<Vec<String>> {
        let read = || -> rusqlite::Result<Vec<String>> {
            let names = Names::read(&self.db)?;
            let mut query = self.db.prepare(which)?;
            let rows = query.query_map([], |r| Ok((r.get::<_, String>(0)?, r.get::<_, String>(1)?)))?;
            let mut all = rows
                .map(|row| row.map(|(key, name)| names.of_key(&key, &name)))
                .collect::<rusqlite::Result<Vec<_>>>()?;
            all.sort();
            Ok(all)
        };
        read().map_err(|e| self.sql(&e))
    }
}
