//! `journal task`: what a player is to practise until when.

use super::asked::{numbers, one_player};
use super::told::{done, fault};
use crate::args::{DoneArgs, TaskCommand, TaskNumbers, TaskSetArgs};
use crate::commands::inputs::open_drill;
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use crate::output::{self, text_style};
use serde_json::json;
use std::path::Path;
use takegauge_drill::Drill;
use takegauge_journal::{Day, Journal, JournalError, TaskAdded, TaskRecord};
use takegauge_report::tasks_text;
use takegauge_review::history::{TASKS_SCHEMA, TaskList};

pub(crate) fn run(command: &TaskCommand, config: &Config, path: &Path) -> Outcome {
    let open = || Journal::open(path).map_err(|e| fault(e, path));
    match command {
        TaskCommand::Set(args) => set(args, config, path),
        TaskCommand::List { player, all, today, done } => {
            list(player.as_deref(), *all, today.unwrap_or_else(Day::today), done, &open()?)
        }
        TaskCommand::Done { which, today, done } => {
            tick(which, Some(today.unwrap_or_else(Day::today)), done, &mut open()?)
        }
        TaskCommand::Open { which, done } => tick(which, None, done, &mut open()?),
        TaskCommand::Delete { which, done } => delete(which, done, &mut open()?),
    }
}

fn set(args: &TaskSetArgs, config: &Config, path: &Path) -> Outcome {
    // A lesson may be planned before the first take, so a journal that is not there yet is made; not for nobody.
    if args.player.is_none() && config.player.is_none() && !path.exists() {
        return Err(Fault::usage("for whom?").advise("give --player NAME, or put player = \"NAME\" in the settings"));
    }
    let mut journal = Journal::open_or_create(path).map_err(|e| fault(e, path))?;
    let player = one_player(args.player.as_deref(), config, &journal)?;
    let drill = match (&args.drill, &args.practice_loop) {
        (Some(named), _) => Some(drill_called(named, &journal)?),
        (None, Some(text)) => Some(loop_of(text, &journal)?),
        (None, None) => None,
    };
    let words = args.words.join(" ");
    if words.trim().is_empty() && drill.is_none() {
        return Err(
            Fault::usage("what is to be done?").advise("say it in words, or name a drill with --drill or --loop")
        );
    }
    let record = TaskRecord {
        player: player.clone(),
        what: words,
        drill: drill.map(|d| d.to_toml()),
        tempo_bpm: args.tempo,
        set: args.today.unwrap_or_else(Day::today),
        due: args.due,
        done: None,
    };
    let added = journal.set_task(&record).map_err(|e| fault(e, path))?;
    let (state, said) = match added {
        TaskAdded::New(n) => ("new", format!("Task {n} is set for {player}; `journal undo` takes it back.\n")),
        TaskAdded::Same(n) => ("there already", format!("Task {n} of {player} says that already.\n")),
        TaskAdded::Changed(n) => {
            ("changed", format!("Task {n} of {player} is changed; `journal undo` takes it back.\n"))
        }
    };
    let shape =
        json!({ "schema": "takegauge/journal-task-set/1", "task": added.task(), "player": player, "state": state });
    done(&args.done, &shape, &said)
}

/// A drill of the journal by its name, else a file or a built-in one.
fn drill_called(named: &Path, journal: &Journal) -> Outcome<Drill> {
    let wrong = |e| fault(e, journal.path());
    if named.is_file() {
        return open_drill(named);
    }
    let ids = journal.drills_called(named).map_err(wrong)?;
    let kept = journal.drills().map_err(wrong)?.into_iter().find(|d| ids.contains(&d.id));
    match kept.and_then(|row| Drill::parse(&row.toml, "the journal").ok()) {
        Some(drill) => Ok(drill),
        None => open_drill(named),
    }
}

/// "12" or "12.2": a practice loop of a take, counted from 1.
fn loop_of(text: &str, journal: &Journal) -> Outcome<Drill> {
    let wrong = || Fault::usage(format!("--loop {text}: give a take's number, as 12, or 12.2 for its second loop"));
    let (take, place) = text.split_once('.').unwrap_or((text, "1"));
    let take: i64 = take.trim().parse().map_err(|_| wrong())?;
    let place: usize = place.trim().parse().ok().filter(|n| *n > 0).ok_or_else(wrong)?;
    let (.., report) = journal.take(take).map_err(|e| fault(e, journal.path()))?;
    let Some(item) = report.plan.get(place - 1) else {
        let n = report.plan.len();
        return Err(Fault::usage(format!("take {take} has {n} practice loop{}", if n == 1 { "" } else { "s" }))
            .advise(format!("`takegauge journal show {take}` shows them")));
    };
    Drill::parse(&item.drill_toml, "the practice loop").map_err(Fault::usage)
}

fn list(player: Option<&str>, all: bool, today: Day, args: &DoneArgs, journal: &Journal) -> Outcome {
    let mut lines = journal.task_lines(player, today).map_err(|e| fault(e, journal.path()))?;
    lines.retain(|t| all || t.done.is_none());
    let list = TaskList { schema: TASKS_SCHEMA.to_owned(), today: today.to_string(), tasks: lines };
    match &args.json {
        Some(path) => output::write(path, takegauge_report::json(&list).as_bytes()),
        None => output::print(&tasks_text(&list.tasks, text_style())),
    }
}

fn these(which: &TaskNumbers) -> Outcome<Vec<i64>> {
    numbers(&which.tasks.join(","))
}

fn named(ids: &[i64]) -> String {
    let list: Vec<String> = ids.iter().map(i64::to_string).collect();
    format!("task{} {}", if ids.len() == 1 { "" } else { "s" }, list.join(", "))
}

fn tick(which: &TaskNumbers, day: Option<Day>, args: &DoneArgs, journal: &mut Journal) -> Outcome {
    let wrong = |e: JournalError, path: &Path| fault(e, path);
    let path = journal.path().to_path_buf();
    let ids = journal.tick_tasks(&these(which)?, day).map_err(|e| wrong(e, &path))?;
    let date = day.map(|d| d.to_string());
    let shape = json!({ "schema": "takegauge/journal-task-done/1", "tasks": ids, "done": date });
    let words = match (ids.as_slice(), &date) {
        ([], _) => "Nothing is other than it was.\n".to_owned(),
        (ids, Some(date)) => format!("Ticked off on {date}: {}; `journal undo` takes it back.\n", named(ids)),
        (ids, None) => format!("Open again: {}.\n", named(ids)),
    };
    done(args, &shape, &words)
}

fn delete(which: &TaskNumbers, args: &DoneArgs, journal: &mut Journal) -> Outcome {
    let path = journal.path().to_path_buf();
    let ids = these(which)?;
    journal.delete_tasks(&ids).map_err(|e| fault(e, &path))?;
    let shape = json!({ "schema": "takegauge/journal-task-delete/1", "tasks": ids });
    done(args, &shape, &format!("Deleted {}; `journal undo` brings back, until `journal compact`.\n", named(&ids)))
}
