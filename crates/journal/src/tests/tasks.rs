//! What is set for a player.

use super::{Place, lines};
use crate::testing::{DRILL, take};
use crate::*;
use takegauge_review::history::TaskState;

fn day(text: &str) -> Day {
    text.parse().unwrap()
}

fn task(player: &str, what: &str) -> TaskRecord {
    TaskRecord {
        player: player.to_owned(),
        what: what.to_owned(),
        drill: None,
        tempo_bpm: None,
        set: day("2026-01-02"),
        due: Some(day("2026-01-09")),
        done: None,
    }
}

fn of_drill(bpm: f64) -> TaskRecord {
    TaskRecord { drill: Some(DRILL.replace("160", "90")), tempo_bpm: Some(bpm), ..task("ada", "") }
}

/// Number, player, what, due in words.
fn told(journal: &Journal, player: Option<&str>, today: &str) -> Vec<(i64, String, String, String)> {
    let lines = journal.task_lines(player, day(today)).unwrap();
    lines.into_iter().map(|t| (t.task, t.player, t.what, t.when)).collect()
}

fn row(n: i64, player: &str, what: &str, when: &str) -> (i64, String, String, String) {
    (n, player.to_owned(), what.to_owned(), when.to_owned())
}

#[test]
fn tasks_are_set_ticked_off_taken_away_and_had_back() {
    let place = Place::new();
    let mut journal = place.with("j.db", 3);
    assert_eq!(journal.set_task(&of_drill(165.0)).unwrap(), TaskAdded::New(1));
    assert_eq!(journal.set_task(&task("Bo", " Two minutes of rolls ")).unwrap(), TaskAdded::New(2));
    assert_eq!(journal.set_task(&task("BO", "Two minutes of rolls")).unwrap(), TaskAdded::Same(2));
    let later = TaskRecord { due: Some(day("2026-01-20")), ..task("Bo", "Two minutes of rolls") };
    assert_eq!(journal.set_task(&later).unwrap(), TaskAdded::Changed(2));
    let threes = row(1, "Ada", "Threes, at 165 bpm", "overdue by 3 days (2026-01-09)");
    let rolls = row(2, "Bo", "Two minutes of rolls", "due in 8 days (2026-01-20)");
    assert_eq!(told(&journal, None, "2026-01-12"), [threes.clone(), rolls.clone()]);
    assert_eq!(told(&journal, Some(" ADA"), "2026-01-12"), std::slice::from_ref(&threes));
    assert_eq!(journal.players().unwrap(), ["Ada"], "who has tasks alone has no takes");
    assert_eq!(journal.players_and_students().unwrap(), ["Ada", "Bo"]);
    // They stand in the plan, as of its day, and tell what was played since.
    let plan = |journal: &Journal, which: Filter, today: &str| journal.plan(&which, day(today)).unwrap().tasks;
    let all = plan(&journal, Filter::default(), "2026-01-12");
    assert_eq!((all.len(), all[0].state, all[0].drill.as_deref()), (2, TaskState::Overdue, Some("Threes")));
    assert_eq!(all[0].so_far.as_deref(), Some("2 takes since, the fastest at 160 bpm of 165"));
    assert!(plan(&journal, Filter::default(), "2026-01-01").is_empty(), "not set yet");
    let of = journal.drills_called(std::path::Path::new("threes")).unwrap();
    let drills = Filter { drills: Some(of), ..Filter::default() };
    assert_eq!(plan(&journal, drills, "2026-01-12").len(), 1);
    // Ticked off, opened, taken away, each taken back by itself.
    assert_eq!(journal.tick_tasks(&[1], Some(day("2026-01-11"))).unwrap(), [1]);
    assert_eq!(journal.tick_tasks(&[1], Some(day("2026-01-12"))).unwrap(), Vec::<i64>::new());
    let done = row(1, "Ada", "Threes, at 165 bpm", "done on 2026-01-11, 2 days late");
    assert_eq!(told(&journal, None, "2026-01-12"), [rolls.clone(), done.clone()]);
    assert_eq!(plan(&journal, Filter::default(), "2026-01-12").len(), 1);
    journal.delete_tasks(&[2]).unwrap();
    assert_eq!(journal.players_and_students().unwrap(), ["Ada"]);
    assert!(matches!(journal.delete_tasks(&[1, 2]), Err(JournalError::NoTask(2))));
    assert!(matches!(journal.tick_tasks(&[7], None), Err(JournalError::NoTask(7))));
    let undone = journal.undo().unwrap().unwrap();
    assert_eq!((undone.what.as_str(), undone.takes.len(), undone.tasks), ("deleting task 2", 0, vec![2]));
    assert_eq!(told(&journal, None, "2026-01-12"), [rolls.clone(), done]);
    assert_eq!(journal.undo().unwrap().unwrap().what, "ticking off task 1");
    assert_eq!(journal.undo().unwrap().unwrap().what, "changing task 2");
    assert_eq!(told(&journal, None, "2026-01-12")[1].3, "overdue by 3 days (2026-01-09)");
    assert_eq!(journal.undo().unwrap().unwrap().what, "setting task 2 for Bo");
    assert_eq!(told(&journal, None, "2026-01-12"), std::slice::from_ref(&threes));
    // A number is given once, also where its task was taken back.
    assert_eq!(journal.set_task(&task("Bo", "other")).unwrap(), TaskAdded::New(3));
    journal.undo().unwrap();
    assert_eq!(journal.redo().unwrap().unwrap().tasks, [3]);
    assert_eq!(told(&journal, Some("Bo"), "2026-01-12")[0].2, "other");
    assert_eq!(journal.check().unwrap(), Vec::<String>::new());
}

#[test]
fn tasks_that_cannot_be_kept_are_refused() {
    let place = Place::new();
    // A tempo between two thousandths is one of them, and its checksum holds.
    let mut journal = place.with("odd.db", 0);
    for tempo in [100.0005, 120.123_456, 33.333_333, 1.0] {
        journal.set_task(&of_drill(tempo)).unwrap();
    }
    assert_eq!(journal.check().unwrap(), Vec::<String>::new());
    let mut journal = place.with("j.db", 0);
    for bad in [
        task(" ", "words"),
        task("Ada", "  "),
        TaskRecord { drill: Some("no drill".to_owned()), ..task("Ada", "words") },
        TaskRecord { tempo_bpm: Some(f64::NAN), ..task("Ada", "words") },
        TaskRecord { tempo_bpm: Some(0.0), ..task("Ada", "words") },
    ] {
        assert!(matches!(journal.set_task(&bad), Err(JournalError::Record(_))), "{bad:?}");
    }
    assert!(journal.tasks(None).unwrap().is_empty() && journal.undo().unwrap().is_none());
}

#[test]
fn tasks_survive_a_restart_an_export_a_backup_and_damage() {
    let place = Place::new();
    let mut journal = place.with("j.db", 2);
    journal.set_task(&of_drill(165.0)).unwrap();
    journal.set_task(&TaskRecord { due: None, ..task("Bo", "rolls") }).unwrap();
    journal.tick_tasks(&[2], Some(day("2026-01-03"))).unwrap();
    let tasks = journal.tasks(None).unwrap();
    let text = lines(&journal);
    assert_eq!(text.lines().filter(|l| l.contains(TASK_SCHEMA)).count(), 2);
    drop(journal);
    let mut journal = Journal::open(&place.file("j.db")).unwrap();
    assert_eq!((journal.tasks(None).unwrap(), lines(&journal)), (tasks.clone(), text.clone()));
    journal.backup(&place.file("copy.db")).unwrap();
    assert_eq!(Journal::open(&place.file("copy.db")).unwrap().tasks(None).unwrap(), tasks);
    // Brought in they are the same, once and twice.
    let mut other = Journal::open_or_create(&place.file("other.db")).unwrap();
    let mut new = Vec::new();
    let mut told = |line: Imported<'_>| {
        if let Imported::Task(added, _) = line {
            new.push(added);
        }
    };
    other.import_lines(&mut text.as_bytes(), &mut told).unwrap();
    other.import_lines(&mut text.as_bytes(), &mut told).unwrap();
    assert_eq!(new, [TaskAdded::New(1), TaskAdded::New(2), TaskAdded::Same(1), TaskAdded::Same(2)]);
    assert_eq!((other.tasks(None).unwrap(), lines(&other)), (tasks.clone(), text.clone()));
    assert_eq!(other.undo().unwrap(), None, "what was brought in is not taken back one by one");
    let of_bo = Filter { player: Some("bo".to_owned()), ..Filter::default() };
    let mut out = Vec::new();
    assert_eq!(journal.export_lines(&of_bo, &mut out).unwrap().tasks, 1);
    let tagged = Filter { tag: Some("evening".to_owned()), ..Filter::default() };
    assert_eq!(journal.export_lines(&tagged, &mut Vec::new()).unwrap().tasks, 0);
    for wrong in [
        text.lines().last().unwrap().replace("\"task\":{", "\"tusk\":{"),
        text.lines().last().unwrap().replace("2026-01-03", "soon"),
        text.lines().next().unwrap().replace("\"score\":{", "\"scare\":{"),
    ] {
        let e = other.import_lines(&mut wrong.as_bytes(), &mut |_| {}).unwrap_err();
        assert!(matches!(e, JournalError::Line { line: 1, .. }), "{e}");
    }
    // Saved with the takes; what was changed by nobody is found.
    let saved = salvage(&place.file("j.db"), &place.file("saved.db")).unwrap();
    assert_eq!((saved.takes, saved.tasks, saved.lost.len()), (2, 2, 0));
    assert_eq!(Journal::open(&place.file("saved.db")).unwrap().tasks(None).unwrap(), tasks);
    journal.compact().unwrap();
    assert_eq!((journal.tasks(None).unwrap(), journal.undo().unwrap()), (tasks, None));
    journal.db.execute("UPDATE task SET due_day = 3 WHERE id = 1", []).unwrap();
    assert_eq!(journal.check().unwrap(), ["task 1 is not as it was stored"]);
    let saved = salvage(&place.file("j.db"), &place.file("again.db")).unwrap();
    assert_eq!((saved.tasks, saved.lost.len()), (2, 1));
}

#[test]
fn a_player_at_a_glance_is_one_under_every_spelling() {
    let place = Place::new();
    let mut journal = place.with("j.db", 6);
    let (record, report) = take(9);
    journal.add(&TakeRecord { player: "ADA".to_owned(), ..record }, &report).unwrap();
    journal.set_task(&of_drill(165.0)).unwrap();
    let report = journal.player("ada", day("2026-01-12")).unwrap();
    assert_eq!((report.player.as_str(), report.takes, report.practice_days), ("Ada", 7, 7));
    let last = report.last.as_ref().unwrap();
    assert_eq!((last.take, last.day.as_str(), last.days_since), (7, "2026-01-10", 2));
    assert_eq!(last.finding.as_deref(), journal.list(&Filter::default()).unwrap()[6].finding.as_str().into());
    // The demo's faults are in every take of these: open since the first, told on each day.
    assert!(!report.open.is_empty() && report.gone.is_empty());
    for f in &report.open {
        assert_eq!((f.since.as_str(), f.told_days, f.practice_days, f.take), ("2026-01-01", 7, 7, 7), "{f:?}");
    }
    assert_eq!((report.tasks.len(), report.next.len(), report.reached.len()), (1, 1, 1));
    assert_eq!(report.reached[0].takes, 7);
    let then = journal.player("Ada", day("2026-01-03")).unwrap();
    assert_eq!((then.takes, then.last.unwrap().take, then.open[0].told_days), (3, 3, 3));
    let nobody = journal.player("Bo", day("2026-01-12")).unwrap();
    assert_eq!((nobody.player.as_str(), nobody.takes, nobody.last, nobody.next.len()), ("Bo", 0, None, 0));
}
