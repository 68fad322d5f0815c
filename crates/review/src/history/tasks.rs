//! What was set for a player, as of a day: what is overdue, what is due when, and how far it is.

use super::found::FoundTake;
use super::reached::{is_clean, rungs};
use crate::words::count;
#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A day, as a number from 1970-01-01 and as the calendar writes it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dated {
    /// Days since 1970-01-01.
    pub day: i32,
    /// 2026-03-01
    pub date: String,
}

/// What was set.
#[derive(Debug, Clone, PartialEq)]
pub struct SetTask {
    /// Its number in the journal.
    pub task: i64,
    /// For whom.
    pub player: String,
    /// In words; may be empty where a drill says it.
    pub words: String,
    /// The drill's name.
    pub drill: Option<String>,
    /// At which tempo.
    pub tempo_bpm: Option<f64>,
    /// When it was set.
    pub set: Dated,
    /// Until when.
    pub due: Option<Dated>,
    /// When it was ticked off.
    pub done: Option<Dated>,
    /// The player's takes of that drill.
    pub takes: Vec<FoundTake>,
}

/// How a task stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum TaskState {
    /// To be done.
    Open,
    /// To be done, and the day is past.
    Overdue,
    /// Ticked off.
    Done,
}

/// A task as of a day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct TaskLine {
    /// Its number in the journal.
    pub task: i64,
    /// For whom.
    pub player: String,
    /// What to do: the words, the drill, the tempo.
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub what: String,
    /// The drill's name.
    pub drill: Option<String>,
    /// At which tempo.
    #[cfg_attr(feature = "schemas", schemars(extend("exclusiveMinimum" = 0)))]
    pub tempo_bpm: Option<f64>,
    /// The day it was set.
    pub set: String,
    /// The day by which it is to be done.
    pub due: Option<String>,
    /// The day it was ticked off.
    pub done: Option<String>,
    /// How it stands.
    pub state: TaskState,
    /// Days until it is due, below 0 where that is past.
    pub days_left: Option<i32>,
    /// When it is due, in words: "overdue by 3 days (2026-03-01)".
    #[cfg_attr(feature = "schemas", schemars(length(min = 1)))]
    pub when: String,
    /// Of a drill: what was played of it since it was set.
    pub so_far: Option<String>,
}

/// The value of `schema`.
pub const TASKS_SCHEMA: &str = "takegauge/journal-tasks/1";

/// `takegauge/journal-tasks/1`
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub struct TaskList {
    /// [`TASKS_SCHEMA`].
    #[cfg_attr(feature = "schemas", schemars(extend("const" = TASKS_SCHEMA)))]
    pub schema: String,
    /// The day it is for.
    pub today: String,
    /// The most urgent first.
    pub tasks: Vec<TaskLine>,
}

/// The tasks as of `today`: overdue ones first, then by the day they are due, then those without a day; those ticked off
/// last, the latest of them first. What was set later does not count, and what was ticked off later is open.
pub fn tasks(all: &[SetTask], today: i32) -> Vec<TaskLine> {
    let mut lines: Vec<TaskLine> = all.iter().filter(|t| t.set.day <= today).map(|t| line(t, today)).collect();
    let last = |l: &TaskLine| (l.done.is_some(), l.done.clone().map(std::cmp::Reverse));
    lines.sort_by(|a, b| {
        last(a)
            .cmp(&last(b))
            .then_with(|| a.days_left.unwrap_or(i32::MAX).cmp(&b.days_left.unwrap_or(i32::MAX)))
            .then_with(|| a.task.cmp(&b.task))
    });
    lines
}

fn line(task: &SetTask, today: i32) -> TaskLine {
    let done = task.done.as_ref().filter(|d| d.day <= today);
    let days_left = task.due.as_ref().filter(|_| done.is_none()).map(|due| due.day - today);
    let state = match (done, days_left) {
        (Some(_), _) => TaskState::Done,
        (None, Some(left)) if left < 0 => TaskState::Overdue,
        _ => TaskState::Open,
    };
    TaskLine {
        task: task.task,
        player: task.player.clone(),
        what: what(task),
        drill: task.drill.clone(),
        tempo_bpm: task.tempo_bpm,
        set: task.set.date.clone(),
        due: task.due.as_ref().map(|d| d.date.clone()),
        done: done.map(|d| d.date.clone()),
        state,
        days_left,
        when: when(task, done, days_left),
        so_far: so_far(task, today),
    }
}

/// "Slow first: Threes, at 140 bpm"
fn what(task: &SetTask) -> String {
    let tempo = task.tempo_bpm.map(|t| format!("at {t} bpm"));
    let of_drill = task.drill.iter().cloned().chain(tempo).collect::<Vec<_>>().join(", ");
    match (task.words.is_empty(), of_drill.is_empty()) {
        (false, false) if task.drill.is_some() => format!("{}: {of_drill}", task.words.trim_end_matches(['.', ':'])),
        (false, false) => format!("{}, {of_drill}", task.words.trim_end_matches('.')),
        (false, true) => task.words.clone(),
        (true, _) => of_drill,
    }
}

fn when(task: &SetTask, done: Option<&Dated>, days_left: Option<i32>) -> String {
    let date = task.due.as_ref().map_or("", |d| d.date.as_str());
    match (done, days_left) {
        (Some(done), _) => {
            let late = task.due.as_ref().map_or(0, |due| done.day - due.day);
            let late = if late > 0 { format!(", {} late", days(late)) } else { String::new() };
            format!("done on {}{late}", done.date)
        }
        (None, None) => "no day set".to_owned(),
        (None, Some(0)) => format!("due today ({date})"),
        (None, Some(1)) => format!("due tomorrow ({date})"),
        (None, Some(left)) if left > 0 => format!("due in {} ({date})", days(left)),
        (None, Some(left)) => format!("overdue by {} ({date})", days(-left)),
    }
}

fn days(n: i32) -> String {
    count(usize::try_from(n).unwrap_or(0), "day", "days")
}

/// What was played of the task's drill from the day on that it was set.
fn so_far(task: &SetTask, today: i32) -> Option<String> {
    task.drill.as_ref()?;
    let since = |t: &&FoundTake| (task.set.day..=today).contains(&t.day);
    let takes: Vec<FoundTake> = task.takes.iter().filter(since).cloned().collect();
    let Some(fastest) = takes.iter().map(|t| t.tempo_bpm).max_by(f64::total_cmp) else {
        return Some("not recorded since".to_owned());
    };
    let n = count(takes.len(), "take", "takes");
    let asked = |t: f64| task.tempo_bpm.is_none_or(|goal| t >= goal * (1.0 - super::reached::ONE_TEMPO));
    let clean = rungs(&takes).into_iter().rev().find(|r| asked(r.tempo_bpm) && is_clean(r.errors, r.notes));
    Some(match (clean, task.tempo_bpm) {
        (Some(r), Some(_)) => format!(
            "{n} since, and it is reached: {:.0} bpm with {} in {} notes",
            r.tempo_bpm,
            count(r.errors, "error", "errors"),
            r.notes
        ),
        (_, None) => format!("{n} since, the fastest at {fastest:.0} bpm"),
        (None, Some(goal)) if asked(fastest) => {
            format!("{n} since, the fastest at {fastest:.0} bpm; {goal} bpm is not clean yet")
        }
        (None, Some(goal)) => format!("{n} since, the fastest at {fastest:.0} bpm of {goal}"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dated(day: i32) -> Dated {
        Dated { day, date: format!("day {day:02}") }
    }

    fn task(task: i64, set: i32, due: Option<i32>, done: Option<i32>) -> SetTask {
        SetTask {
            task,
            player: "Ada".to_owned(),
            words: "Slowly.".to_owned(),
            drill: None,
            tempo_bpm: None,
            set: dated(set),
            due: due.map(dated),
            done: done.map(dated),
            takes: Vec::new(),
        }
    }

    #[test]
    fn when_a_task_is_due_is_said_in_words_and_the_most_urgent_comes_first() {
        let all = [
            task(1, 1, None, None),
            task(2, 1, Some(20), None),
            task(3, 1, Some(10), None),
            task(4, 1, Some(7), None),
            task(5, 1, Some(4), Some(6)),
            task(6, 1, Some(9), Some(8)),
            task(7, 30, Some(40), None),
            task(8, 1, Some(11), None),
            task(9, 2, Some(9), Some(12)),
        ];
        let told: Vec<(i64, String, TaskState)> =
            tasks(&all, 10).into_iter().map(|l| (l.task, l.when, l.state)).collect();
        let row = |n: i64, when: &str, state| (n, when.to_owned(), state);
        assert_eq!(
            told,
            [
                row(4, "overdue by 3 days (day 07)", TaskState::Overdue),
                row(9, "overdue by 1 day (day 09)", TaskState::Overdue),
                row(3, "due today (day 10)", TaskState::Open),
                row(8, "due tomorrow (day 11)", TaskState::Open),
                row(2, "due in 10 days (day 20)", TaskState::Open),
                row(1, "no day set", TaskState::Open),
                row(6, "done on day 08", TaskState::Done),
                row(5, "done on day 06, 2 days late", TaskState::Done),
            ]
        );
    }

    #[test]
    fn a_task_of_a_drill_tells_how_far_it_is() {
        let take = |day: i32, tempo_bpm: f64, errors: usize| FoundTake {
            take: day.into(),
            day,
            date: format!("day {day}"),
            tempo_bpm,
            notes: 96,
            errors,
            findings: Vec::new(),
        };
        let mut set = task(1, 5, None, None);
        (set.drill, set.tempo_bpm) = (Some("Threes".to_owned()), Some(140.0));
        let told = |set: &SetTask| {
            let line = tasks(std::slice::from_ref(set), 20).remove(0);
            (line.what, line.so_far.unwrap())
        };
        set.takes = vec![take(2, 150.0, 0)];
        assert_eq!(told(&set), ("Slowly: Threes, at 140 bpm".to_owned(), "not recorded since".to_owned()));
        set.takes.push(take(6, 120.4, 0));
        assert_eq!(told(&set).1, "1 take since, the fastest at 120 bpm of 140");
        set.takes.push(take(7, 139.0, 5));
        assert_eq!(told(&set).1, "2 takes since, the fastest at 139 bpm; 140 bpm is not clean yet");
        set.takes.push(take(8, 140.5, 0));
        set.takes.push(take(9, 140.5, 0));
        assert_eq!(told(&set).1, "4 takes since, and it is reached: 140 bpm with 5 errors in 288 notes");
        set.words.clear();
        set.tempo_bpm = None;
        assert_eq!(told(&set), ("Threes".to_owned(), "4 takes since, the fastest at 140 bpm".to_owned()));
    }
}
