//! What is set for a player to practise: in words, a drill or a practice loop at a tempo, or both; until when, and whether
//! it is done. Setting, ticking off and taking away can be taken back like any other change.

use crate::error::{JournalError, Result};
use crate::journal::{Journal, new_action};
use crate::model::{TaskRecord, TaskRow};
use crate::names::{Names, player_key, spelling, tidy_name};
use crate::seal;
use crate::when::Day;
use rusqlite::{Connection, OptionalExtension, Row, params};
use takegauge_drill::Drill;

/// Characters of a task's words.
const WORDS: usize = 2000;

/// What became of a task.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TaskAdded {
    /// It is set under this number.
    New(i64),
    /// The very same was set that day already.
    Same(i64),
    /// It was set that day already; when it is due, or whether it is done, is other than before.
    Changed(i64),
}

impl TaskAdded {
    /// The task's number.
    pub fn task(self) -> i64 {
        match self {
            Self::New(id) | Self::Same(id) | Self::Changed(id) => id,
        }
    }
}

impl Journal {
    /// Sets a task. The same words, drill and tempo for the same player on the same day are one task.
    ///
    /// # Errors
    /// [`JournalError::Record`] where there is no player, neither words nor drill, or no sensible tempo;
    /// [`JournalError::Moved`], [`JournalError::Busy`], [`JournalError::Write`].
    pub fn set_task(&mut self, task: &TaskRecord) -> Result<TaskAdded> {
        self.put_task(task, true)
    }

    /// As [`Journal::set_task`]; a new task can be taken back where it is said so.
    pub(crate) fn put_task(&mut self, task: &TaskRecord, undo: bool) -> Result<TaskAdded> {
        let task = checked(task)?;
        self.change(|step| {
            let words = "SELECT k.id FROM task k JOIN player p ON p.id = k.player WHERE p.key = ?1 AND k.what = ?2
               AND k.drill = ?3 AND k.tempo_mbpm IS ?4 AND k.set_day = ?5";
            let drill = task.drill.as_deref().unwrap_or_default();
            let identity = params![player_key(&task.player), task.what, drill, tempo_mbpm(&task), task.set.0];
            let there: Option<i64> = step.query_row(words, identity, |r| r.get(0)).optional()?;
            Ok(match there {
                None => {
                    let id = next_number(step)?;
                    if undo {
                        let action = new_action(step, &format!("setting task {id} for {}", task.player))?;
                        keep(step, action, id)?;
                    }
                    store(step, id, &task)?;
                    TaskAdded::New(id)
                }
                Some(id) => {
                    let before = read(step, id)?;
                    let now = TaskRecord { player: before.player.clone(), ..task.clone() };
                    if before == now {
                        TaskAdded::Same(id)
                    } else {
                        let action = new_action(step, &format!("changing task {id}"))?;
                        keep(step, action, id)?;
                        store(step, id, &now)?;
                        TaskAdded::Changed(id)
                    }
                }
            })
        })
    }

    /// Ticks tasks off, on the day given, or opens them again; all of them or none. The numbers of those that are other
    /// than before.
    ///
    /// # Errors
    /// [`JournalError::NoTask`], [`JournalError::Moved`], [`JournalError::Busy`], [`JournalError::Write`].
    pub fn tick_tasks(&mut self, tasks: &[i64], done: Option<Day>) -> Result<Vec<i64>> {
        let all = self.known_tasks(tasks)?;
        let other: Vec<TaskRow> = all.into_iter().filter(|t| t.record.done.is_some() != done.is_some()).collect();
        let ids: Vec<i64> = other.iter().map(|t| t.task).collect();
        if ids.is_empty() {
            return Ok(ids);
        }
        let verb = if done.is_some() { "ticking off" } else { "opening" };
        self.change(|step| {
            let action = new_action(step, &format!("{verb} {}", named(&ids)))?;
            for id in &ids {
                keep(step, action, *id)?;
                let record = read(step, *id)?;
                store(step, *id, &TaskRecord { done, ..record })?;
            }
            Ok(())
        })?;
        Ok(ids)
    }

    /// Takes tasks away, all of them or none.
    ///
    /// # Errors
    /// As [`Journal::tick_tasks`].
    pub fn delete_tasks(&mut self, tasks: &[i64]) -> Result<()> {
        let ids: Vec<i64> = self.known_tasks(tasks)?.into_iter().map(|t| t.task).collect();
        if ids.is_empty() {
            return Ok(());
        }
        self.change(|step| {
            let action = new_action(step, &format!("deleting {}", named(&ids)))?;
            for id in &ids {
                keep(step, action, *id)?;
                step.execute("DELETE FROM task WHERE id = ?1", [id])?;
            }
            Ok(())
        })
    }

    /// The tasks of a player, or all, in the order set.
    ///
    /// # Errors
    /// [`JournalError::Damaged`], [`JournalError::Busy`].
    pub fn tasks(&self, player: Option<&str>) -> Result<Vec<TaskRow>> {
        rows(&self.db, player).map_err(|e| self.sql(&e))
    }

    fn known_tasks(&self, tasks: &[i64]) -> Result<Vec<TaskRow>> {
        let all = self.tasks(None)?;
        if let Some(none) = tasks.iter().find(|id| all.iter().all(|t| t.task != **id)) {
            return Err(JournalError::NoTask(*none));
        }
        Ok(all.into_iter().filter(|t| tasks.contains(&t.task)).collect())
    }

    /// One change of the file, whole or not at all.
    fn change<T>(&mut self, work: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T> {
        let path = self.path.clone();
        let fail = |e: rusqlite::Error| JournalError::sql(&path, &e);
        let step = self.begin()?;
        let done = work(&step).map_err(fail)?;
        step.commit().map_err(fail)?;
        self.still_there()?;
        Ok(done)
    }
}

/// "task 3", "3 tasks"
fn named(ids: &[i64]) -> String {
    match ids {
        [only] => format!("task {only}"),
        many => format!("{} tasks", many.len()),
    }
}

/// A task as it is kept: texts tidied, the drill in its canonical form.
fn checked(task: &TaskRecord) -> Result<TaskRecord> {
    let wrong = |why: &str| Err(JournalError::Record(why.to_owned()));
    let player = tidy_name(&task.player);
    if player_key(&player).is_empty() {
        return wrong("a task needs a player's name");
    }
    let what: String = task.what.trim().chars().take(WORDS).collect();
    let drill = task.drill.as_deref().map(|text| Drill::parse(text, "the task's drill")).transpose();
    let drill = drill.map_err(|e| JournalError::Record(e.to_string()))?.map(|d| d.to_toml());
    if what.is_empty() && drill.is_none() {
        return wrong("a task needs words, or a drill");
    }
    if task.tempo_bpm.is_some_and(|t| !(1.0..=1000.0).contains(&t)) {
        return wrong("a task's tempo lies between 1 and 1000 bpm");
    }
    let tempo_bpm = tempo_mbpm(task).map(|t| t as f64 / 1000.0);
    Ok(TaskRecord { player, what, drill, tempo_bpm, ..task.clone() })
}

/// Thousandths, as all tempos of the file.
fn tempo_mbpm(task: &TaskRecord) -> Option<i64> {
    task.tempo_bpm.map(|t| (t * 1000.0).round() as i64)
}

/// A number that no task has had.
fn next_number(db: &Connection) -> rusqlite::Result<i64> {
    db.query_row(
        "SELECT max(coalesce((SELECT max(id) FROM task), 0), coalesce((SELECT max(task) FROM task_before), 0),
           coalesce((SELECT seq FROM sqlite_sequence WHERE name = 'task'), 0)) + 1",
        [],
        |r| r.get(0),
    )
}

const COLUMNS: &str = "p.name, k.what, k.drill, k.tempo_mbpm, k.set_day, k.due_day, k.done_day";

fn record(r: &Row<'_>) -> rusqlite::Result<TaskRecord> {
    let drill: String = r.get(2)?;
    let day = |at: usize| -> rusqlite::Result<Option<Day>> { Ok(r.get::<_, Option<i32>>(at)?.map(Day)) };
    Ok(TaskRecord {
        player: r.get(0)?,
        what: r.get(1)?,
        drill: (!drill.is_empty()).then_some(drill),
        tempo_bpm: r.get::<_, Option<i64>>(3)?.map(|t| t as f64 / 1000.0),
        set: Day(r.get(4)?),
        due: day(5)?,
        done: day(6)?,
    })
}

fn read(db: &Connection, task: i64) -> rusqlite::Result<TaskRecord> {
    db.prepare_cached(&format!("SELECT {COLUMNS} FROM task k JOIN player p ON p.id = k.player WHERE k.id = ?1"))?
        .query_row([task], record)
}

fn rows(db: &Connection, player: Option<&str>) -> rusqlite::Result<Vec<TaskRow>> {
    let names = Names::read(db)?;
    let mut query = db.prepare(&format!(
        "SELECT {COLUMNS}, k.id FROM task k JOIN player p ON p.id = k.player WHERE ?1 IS NULL OR p.key = ?1
         ORDER BY k.set_day, k.id"
    ))?;
    let all = query.query_map([player.map(player_key)], |r| {
        let record = record(r)?;
        let drill = record.drill.as_deref().and_then(|text| Drill::parse(text, "the journal").ok()).map(|d| d.name);
        let record = TaskRecord { player: names.of(&record.player), ..record };
        Ok(TaskRow { task: r.get(7)?, record, drill })
    })?;
    all.collect()
}

/// Writes a task under its number, whatever stands there, and seals it.
fn store(db: &Connection, task: i64, record: &TaskRecord) -> rusqlite::Result<()> {
    db.prepare_cached(
        "INSERT OR REPLACE INTO task (id, player, what, drill, tempo_mbpm, set_day, due_day, done_day, sha256)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    )?
    .execute(params![
        task,
        spelling(db, &record.player)?,
        record.what,
        record.drill.as_deref().unwrap_or_default(),
        tempo_mbpm(record),
        record.set.0,
        record.due.map(|d| d.0),
        record.done.map(|d| d.0),
        seal::of_task(record)
    ])?;
    Ok(())
}

/// Lays beside an action what a task is before it: nothing, where there is none.
pub(crate) fn keep(db: &Connection, action: i64, task: i64) -> rusqlite::Result<()> {
    let before = read(db, task).optional()?;
    let (text, sum) = match &before {
        Some(record) => (Some(to_json(record)?), seal::of_task(record)),
        None => (None, String::new()),
    };
    db.prepare_cached("INSERT INTO task_before (action, task, before, sha256) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![action, task, text, sum])?;
    Ok(())
}

fn to_json(record: &TaskRecord) -> rusqlite::Result<String> {
    serde_json::to_string(record).map_err(|e| rusqlite::Error::ToSqlConversionFailure(e.into()))
}

/// A task and what it was before; nothing where it was not there.
pub(crate) type Before = (i64, Option<TaskRecord>);

/// The tasks that an action changed, and what each was before.
///
/// # Errors
/// The sentence of [`JournalError::Record`] in the inner result, where one cannot be read.
pub(crate) fn kept(db: &Connection, action: i64) -> rusqlite::Result<Result<Vec<Before>>> {
    let mut query = db.prepare("SELECT task, before FROM task_before WHERE action = ?1 ORDER BY task")?;
    let rows = query.query_map([action], |r| Ok((r.get::<_, i64>(0)?, r.get::<_, Option<String>>(1)?)))?;
    let rows = rows.collect::<rusqlite::Result<Vec<_>>>()?;
    let read = rows.into_iter().map(|(task, before)| {
        let before = before.map(|text| serde_json::from_str(&text)).transpose();
        Ok((task, before.map_err(|e| JournalError::Record(format!("task {task} before its change: {e}")))?))
    });
    Ok(read.collect())
}

/// Makes a task what it was.
pub(crate) fn lay_back(db: &Connection, task: i64, before: Option<&TaskRecord>) -> rusqlite::Result<()> {
    match before {
        Some(record) => store(db, task, record),
        None => db.execute("DELETE FROM task WHERE id = ?1", [task]).map(drop),
    }
}

/// A task with its record and whether its checksum holds, or a sentence why it cannot be read.
pub(crate) type Sealed = std::result::Result<(i64, TaskRecord, bool), String>;

/// Each task of a file with its record and whether its checksum holds; a sentence for what cannot be read.
pub(crate) fn sealed(db: &Connection) -> rusqlite::Result<Vec<Sealed>> {
    let mut query = db.prepare(&format!(
        "SELECT {COLUMNS}, k.id, k.sha256 FROM task k JOIN player p ON p.id = k.player ORDER BY k.id"
    ))?;
    let rows = query.query_map([], |r| {
        let (record, sum): (TaskRecord, String) = (record(r)?, r.get(8)?);
        let holds = seal::of_task(&record) == sum;
        Ok((r.get(7)?, record, holds))
    })?;
    Ok(rows.map(|row| row.map_err(|e| format!("a task cannot be read: {e}"))).collect())
}

/// What is wrong with the tasks and with what lies beside their changes; one sentence each.
pub(crate) fn check(db: &Connection) -> Vec<String> {
    let of_tasks = sealed(db).map(|rows| {
        let bad = |row| match row {
            Ok((_, _, true)) => None,
            Ok((task, _, false)) => Some(format!("task {task} is not as it was stored")),
            Err(why) => Some(why),
        };
        rows.into_iter().filter_map(bad).collect::<Vec<String>>()
    });
    let before = || -> rusqlite::Result<Vec<String>> {
        let mut query = db.prepare("SELECT task, before, sha256 FROM task_before WHERE before IS NOT NULL")?;
        let rows =
            query.query_map([], |r| Ok((r.get::<_, i64>(0)?, r.get::<_, String>(1)?, r.get::<_, String>(2)?)))?;
        let mut bad = Vec::new();
        for row in rows {
            let (task, text, sum) = row?;
            let holds = serde_json::from_str::<TaskRecord>(&text).is_ok_and(|record| seal::of_task(&record) == sum);
            if !holds {
                bad.push(format!("what task {task} was before a change is not as it was put there"));
            }
        }
        Ok(bad)
    };
    let told = |e: rusqlite::Error| vec![format!("the tasks cannot be read: {e}")];
    [of_tasks.unwrap_or_else(told), before().unwrap_or_else(told)].concat()
}
