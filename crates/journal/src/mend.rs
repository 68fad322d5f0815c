//! Mending what stands beside a take's score: whose it is, when it was recorded, its words.

use crate::error::{JournalError, Result};
use crate::journal::{Journal, new_action, shelve};
use crate::model::{TakeRecord, tidy_tags};
use crate::names::{player_key, spelling, tidy_name};
use rusqlite::{Connection, params};

/// What [`Journal::mend`] did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mended {
    /// The takes that are other than before, rising.
    pub takes: Vec<i64>,
    /// What of them: "player", "date", "note", "tags" ...
    pub what: Vec<&'static str>,
}

/// What can be mended, by name: drill, recording and place of the file are the take itself.
fn differs(before: &TakeRecord, now: &TakeRecord) -> Vec<&'static str> {
    let all = [
        ("player", before.player != now.player),
        ("date", before.recorded_at != now.recorded_at),
        ("picked", before.picked != now.picked),
        ("guitar", before.guitar != now.guitar),
        ("microphone", before.microphone != now.microphone),
        ("note", before.note != now.note),
        ("tags", before.tags != now.tags),
    ];
    all.into_iter().filter(|(_, differs)| *differs).map(|(name, _)| name).collect()
}

impl Journal {
    /// Changes what stands beside the score of takes, all of them or none: player, date, which of several tries, guitar,
    /// microphone, tags, note. What `change` does to drill, recording or path does not count. [`Journal::undo`] brings
    /// all of it back at once.
    ///
    /// # Errors
    /// [`JournalError::NoTake`], [`JournalError::Record`] where a player would have no name, [`JournalError::Moved`],
    /// [`JournalError::Busy`], [`JournalError::Write`].
    pub fn mend(&mut self, takes: &[i64], change: impl Fn(&mut TakeRecord)) -> Result<Mended> {
        let path = self.path.clone();
        let fail = move |e: rusqlite::Error| JournalError::sql(&path, &e);
        let step = self.begin()?;
        let mut takes = takes.to_vec();
        takes.sort_unstable();
        takes.dedup();
        let (mut changed, mut what) = (Vec::new(), Vec::new());
        for take in takes {
            let known: bool = step
                .query_row("SELECT EXISTS (SELECT 1 FROM take WHERE id = ?1)", [take], |r| r.get(0))
                .map_err(&fail)?;
            if !known {
                return Err(JournalError::NoTake(take));
            }
            let before = crate::record::record(&step, take).map_err(&fail)?;
            let mut now = before.clone();
            change(&mut now);
            now.tags = tidy_tags(&now.tags);
            // Blanks alone are no other spelling.
            now.player = match tidy_name(&now.player) {
                same if same == tidy_name(&before.player) => before.player.clone(),
                other => other,
            };
            if player_key(&now.player).is_empty() {
                return Err(JournalError::Record("a take needs a player's name".to_owned()));
            }
            let of_this = differs(&before, &now);
            if !of_this.is_empty() {
                changed.push((take, now));
                what.extend(of_this);
            }
        }
        what.sort_unstable();
        what.dedup();
        if changed.is_empty() {
            return Ok(Mended { takes: Vec::new(), what });
        }
        let ids: Vec<i64> = changed.iter().map(|(take, _)| *take).collect();
        let of = match ids.as_slice() {
            [only] => format!("take {only}"),
            many => format!("{} takes", many.len()),
        };
        let write = || -> rusqlite::Result<()> {
            let action = new_action(&step, &format!("mending {of} ({})", what.join(", ")))?;
            for (take, now) in &changed {
                shelve(&step, action, *take)?;
                put(&step, *take, now)?;
            }
            Ok(())
        };
        write().map_err(&fail)?;
        step.commit().map_err(&fail)?;
        self.still_there()?;
        Ok(Mended { takes: ids, what })
    }

    /// Gives a take another note and other tags; [`Journal::undo`] brings the former ones back.
    ///
    /// # Errors
    /// As [`Journal::mend`].
    pub fn annotate(&mut self, take: i64, note: &str, tags: &[String]) -> Result<()> {
        let change = |record: &mut TakeRecord| (record.note, record.tags) = (note.to_owned(), tags.to_vec());
        self.mend(&[take], change).map(drop)
    }
}

/// Writes what can be mended, and seals the take anew.
fn put(step: &Connection, take: i64, now: &TakeRecord) -> rusqlite::Result<()> {
    let at = now.recorded_at;
    step.prepare_cached(
        "UPDATE take SET player = ?2, recorded_ms = ?3, offset_s = ?4, day = ?5, picked = ?6, guitar = ?7,
           microphone = ?8, note = ?9 WHERE id = ?1",
    )?
    .execute(params![
        take,
        spelling(step, &now.player)?,
        at.milliseconds(),
        at.offset_s(),
        at.day().0,
        now.picked.text(),
        now.guitar,
        now.microphone,
        now.note
    ])?;
    step.prepare_cached("DELETE FROM tag WHERE take = ?1")?.execute([take])?;
    let mut tag = step.prepare_cached("INSERT INTO tag VALUES (?1, ?2)")?;
    for name in &now.tags {
        tag.execute(params![take, name])?;
    }
    crate::seal::put(step, take)
}
