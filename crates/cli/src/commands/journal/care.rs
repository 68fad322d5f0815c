//! `journal delete`, `undo`, `compact`, `check` and `backup`.

use super::asked::{ask, filter, numbers};
use super::told::{done, fault, faults};
use crate::args::{DeleteArgs, DoneArgs};
use crate::fault::{Fault, Outcome};
use crate::output::{print, takes};
use serde_json::json;
use std::path::Path;
use takegauge_journal::{Filter, Journal, JournalError, Undone, salvage};

/// Faults of a damaged journal that are listed; --json gives them all.
const SHOWN: usize = 20;

pub(crate) fn delete(args: &DeleteArgs, journal: &mut Journal) -> Outcome {
    let mut which = filter(&args.filter, journal)?;
    if !args.takes.is_empty() {
        which.takes = Some(numbers(&args.takes.join(","))?);
    }
    if which.is_empty() {
        return Err(Fault::usage("which takes?").advise("name their numbers, or all of a player with --player NAME"));
    }
    let there: Vec<i64> =
        journal.list(&which).map_err(|e| fault(e, journal.path()))?.into_iter().map(|row| row.take).collect();
    if there.is_empty() {
        return Err(Fault::usage("no take passes").advise("`takegauge journal list` shows what there is"));
    }
    let what = takes(there.len());
    if !args.yes {
        match ask(&format!("Delete {what}? [yes/no]")).as_deref() {
            Some("yes" | "y") => {}
            Some(_) => return print("Nothing was deleted.\n"),
            None => return Err(Fault::usage(format!("this would delete {what}")).advise("give --yes to do it")),
        }
    }
    // Those that were asked about, whatever came into the journal meanwhile.
    let which = Filter { takes: Some(there.clone()), ..Filter::default() };
    let path = journal.path().to_path_buf();
    journal.delete(&which, &format!("deleting {what}")).map_err(|e| fault(e, &path))?;
    let them = if there.len() == 1 { "it" } else { "them" };
    let shape = json!({ "schema": "takegauge/journal-delete/1", "takes": there });
    let words = format!("Deleted {what}; `journal undo` brings {them} back, until `journal compact`.\n");
    done(&args.done, &shape, &words)
}

pub(crate) fn undo(journal: &mut Journal, args: &DoneArgs) -> Outcome {
    let path = journal.path().to_path_buf();
    let undone = journal.undo().map_err(|e| fault(e, &path))?;
    told_back(undone, "undo", "Taken back", args)
}

pub(crate) fn redo(journal: &mut Journal, args: &DoneArgs) -> Outcome {
    let path = journal.path().to_path_buf();
    let undone = journal.redo().map_err(|e| fault(e, &path))?;
    told_back(undone, "redo", "Done again", args)
}

fn told_back(undone: Option<Undone>, command: &str, done_what: &str, args: &DoneArgs) -> Outcome {
    let schema = format!("takegauge/journal-{command}/1");
    let Some(undone) = undone else {
        let shape = json!({ "schema": schema, "what": null, "takes": [], "tasks": [], "replaced": false });
        return done(args, &shape, "There is nothing to take back.\n");
    };
    let ids: Vec<String> = undone.takes.iter().take(20).map(i64::to_string).collect();
    let more = if undone.takes.len() > 20 { " ..." } else { "" };
    let other = if command == "undo" { "redo" } else { "undo" };
    let kept = if undone.replaced {
        format!(" What stood there can be had back with `journal {other}`.")
    } else {
        String::new()
    };
    let here = if ids.is_empty() { String::new() } else { format!(" Here again: take {}{more}.", ids.join(", ")) };
    let words = format!("{done_what}: {}.{here}{kept}\n", undone.what);
    let shape = json!({
        "schema": schema, "what": undone.what, "takes": undone.takes, "tasks": undone.tasks, "replaced": undone.replaced,
    });
    done(args, &shape, &words)
}

pub(crate) fn restore(backup: &Path, path: &Path, args: &DoneArgs) -> Outcome {
    let restored = takegauge_journal::restore(backup, path).map_err(|e| match e {
        JournalError::Damaged { .. } => Fault::usage(e).advise("the journal is as it was; try another copy"),
        JournalError::Busy { .. } => {
            Fault::usage(e).advise("end `takegauge watch` and `takegauge page` first; the journal is as it was")
        }
        other => fault(other, path),
    })?;
    let mut words =
        format!("{} from {} are the journal {} now\n", takes(restored.takes), backup.display(), path.display());
    if let Some(before) = &restored.before {
        words.push_str(&format!("what was there is {}\n", before.display()));
    }
    let before = restored.before.map(|p| p.display().to_string());
    let shape = json!({ "schema": "takegauge/journal-restore/1", "takes": restored.takes, "before": before });
    done(args, &shape, &words)
}

pub(crate) fn compact(journal: &mut Journal, args: &DoneArgs) -> Outcome {
    let path = journal.path().to_path_buf();
    let compacted = journal.compact().map_err(|e| fault(e, &path))?;
    let gone = match compacted.forgotten {
        0 if compacted.task_changes > 0 => "No score was deleted or replaced".to_owned(),
        0 => "There was nothing to forget".to_owned(),
        1 => "1 deleted or replaced score is gone for good".to_owned(),
        n => format!("{n} deleted or replaced scores are gone for good"),
    };
    let size = |bytes: u64| format!("{:.1} MB", bytes as f64 / 1e6);
    let of_tasks = match compacted.task_changes {
        0 => String::new(),
        1 => "; 1 change of a task can no longer be taken back".to_owned(),
        n => format!("; {n} changes of tasks can no longer be taken back"),
    };
    let words = format!("{gone}{of_tasks}; {} before, {} now\n", size(compacted.before), size(compacted.after));
    let shape = json!({
        "schema": "takegauge/journal-compact/1", "forgotten": compacted.forgotten,
        "task_changes": compacted.task_changes, "before_bytes": compacted.before, "after_bytes": compacted.after,
    });
    done(args, &shape, &words)
}

pub(crate) fn check(path: &Path, to: Option<&Path>, args: &DoneArgs) -> Outcome {
    let shape = |takes: usize, problems: &[String]| {
        let to = to.map(|to| to.display().to_string());
        json!({ "schema": "takegauge/journal-check/1", "takes": takes, "problems": problems, "salvaged_to": to })
    };
    if let Some(to) = to {
        let saved = salvage(path, to).map_err(|e| fault(e, path))?;
        let mut words = format!("{} whole in {}\n", takes(saved.takes), to.display());
        for line in &saved.lost {
            words.push_str(&format!("not readable: {line}\n"));
        }
        return done(args, &shape(saved.takes, &saved.lost), &words);
    }
    let journal = Journal::open(path).map_err(|e| fault(e, path))?;
    let problems = journal.check().map_err(|e| fault(e, path))?;
    let n = journal.list(&Filter::default()).map(|rows| rows.len());
    if problems.is_empty() {
        let n = n.map_err(|e| fault(e, path))?;
        return done(args, &shape(n, &[]), &format!("{}: {}, no damage found\n", path.display(), takes(n)));
    }
    let mut words: String = problems.iter().take(SHOWN).map(|p| format!("{p}\n")).collect();
    if problems.len() > SHOWN {
        words.push_str(&format!("and {} more\n", problems.len() - SHOWN));
    }
    done(args, &shape(n.unwrap_or(0), &problems), &words)?;
    let why = faults(problems.len());
    Err(fault(JournalError::Damaged { path: path.to_path_buf(), why }, path))
}

pub(crate) fn backup(journal: &Journal, to: &Path, args: &DoneArgs) -> Outcome {
    journal.backup(to).map_err(|e| fault(e, journal.path()))?;
    let shape = json!({ "schema": "takegauge/journal-backup/1", "path": to.display().to_string() });
    done(args, &shape, &format!("copied to {}\n", to.display()))
}
