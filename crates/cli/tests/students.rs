//! Players and what is set for them, at the command line.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{Desk, audio, err, fits, history, line, out, takegauge};
use serde_json::{Value, json};

fn told(desk: &Desk, args: &[&str]) -> Value {
    serde_json::from_str(&desk.ok(&[args, &["--json", "-"]].concat())).unwrap()
}

#[test]
fn spellings_of_a_name_are_one_player_everywhere() {
    let desk = Desk::new();
    let mut lines = history(9, |k| 4.0 + (k % 3) as f64);
    lines[2]["take"]["player"] = json!("ada");
    lines[5]["take"]["player"] = json!(" ADA ");
    desk.import(&lines);
    let (take, drill) = (audio("late_inside.flac"), audio("late_inside.toml"));
    let add = ["add", take.to_str().unwrap(), "--drill", drill.to_str().unwrap(), "--player", "aDA", "--picked", "all"];
    let added = desk.ok(&[&add[..], &["--recorded-at", "2026-01-20", "-q"]].concat());
    assert!(added.contains("take 10 of Ada"), "{added}");
    for spelling in ["Ada", "ada", "  ADA"] {
        let takes = told(&desk, &["list", "--player", spelling])["takes"].as_array().unwrap().clone();
        assert_eq!(takes.len(), 10, "{spelling}");
        assert!(takes.iter().all(|t| t["player"] == "Ada"));
        let trend = told(&desk, &["trend", "--player", spelling, "--metric", "spread"]);
        assert_eq!((trend["player"].as_str(), trend["rows"][0]["days"].as_array().unwrap().len()), (Some("Ada"), 10));
        assert_eq!(told(&desk, &["plan", "--player", spelling])["lines"][0]["player"], "Ada");
    }
    // One player: nobody needs to be named, and two takes of two spellings can be compared.
    assert!(desk.ok(&["trend"]).starts_with("Ada, "));
    assert!(told(&desk, &["compare", "3", "4"])["rows"].is_array());
    // What each take was added with stays.
    let spelt: Vec<Value> = desk
        .ok(&["export"])
        .lines()
        .map(|l| serde_json::from_str::<Value>(l).unwrap()["take"]["player"].clone())
        .collect();
    assert_eq!((spelt[2].as_str(), spelt[5].as_str(), spelt[9].as_str()), (Some("ada"), Some("ADA"), Some("aDA")));
    assert!(desk.ok(&["delete", "--player", "ada", "--yes"]).contains("Deleted 10 takes"));
}

#[test]
fn takes_are_mended_and_the_mending_taken_back() {
    let desk = Desk::new();
    desk.import(&history(3, |_| 4.0));
    let before = desk.ok(&["export"]);
    let row = |n: usize| told(&desk, &["list"])["takes"][n].clone();
    assert!(desk.fails(2, &["mend", "1"]).contains("nothing to mend"));
    assert!(desk.fails(2, &["mend", "1", "--recorded-at", "soon"]).contains("--recorded-at"));
    assert!(desk.fails(2, &["mend", "1,9", "--note", "x"]).contains("no take 9"));
    assert!(desk.fails(2, &["mend", "1", "--player", " "]).contains("needs a player's name"));
    assert_eq!(desk.ok(&["export"]), before);
    let many = ["mend", "1-2", "--player", "Bo", "--tag", "lesson", "--note", "new strings", "--guitar", "red one"];
    let said = desk.ok(&[&many[..], &["--picked", "best"]].concat());
    assert_eq!(said, "Mended 2 takes: guitar, note, picked, player, tags; `journal undo` takes it back.\n");
    assert_eq!((row(0)["player"].as_str(), row(1)["tags"].clone()), (Some("Bo"), json!(["lesson"])));
    assert_eq!((row(2)["player"].as_str(), row(0)["note"].as_str()), (Some("Ada"), Some("new strings")));
    // A day alone keeps the time of day, on the clock of then.
    let mended = told(&desk, &["mend", "1", "--recorded-at", "2025-12-24", "--untag", "lesson", "--note", ""]);
    assert_eq!((mended["takes"].clone(), mended["what"].clone()), (json!([1]), json!(["date", "note", "tags"])));
    assert_eq!(row(0)["recorded_at"], "2025-12-24T18:00:00+01:00");
    assert_eq!((row(0)["day"].as_str(), row(0)["note"].as_str()), (Some("2025-12-24"), Some("")));
    assert_eq!(desk.ok(&["mend", "1", "--player", "Bo"]), "Nothing is other than it was.\n");
    assert!(desk.ok(&["check"]).contains("no damage found"));
    assert!(desk.ok(&["undo"]).contains("mending take 1 (date, note, tags)"));
    assert!(desk.ok(&["redo"]).contains("Here again: take 1."));
    desk.ok(&["undo"]);
    desk.ok(&["undo"]);
    assert_eq!(desk.ok(&["export"]), before);
    // A take that was added under another's name is given to whom it belongs.
    let (take, drill) = (audio("late_inside.flac"), audio("late_inside.toml"));
    let add = |player| {
        ["add", take.to_str().unwrap(), "--drill", drill.to_str().unwrap(), "--player", player, "-q", "--again"]
    };
    desk.ok(&add("Bo"));
    assert!(desk.fails(2, &add("Cy")).contains("journal mend TAKE --player NAME"));
}

#[test]
fn tasks_are_set_listed_ticked_off_and_stand_in_the_plan() {
    let desk = Desk::new();
    assert!(desk.fails(2, &["task", "set", "rolls"]).contains("for whom"));
    assert!(!desk.journal().exists());
    // Before the first take: a journal is made.
    let first =
        ["task", "set", "Two minutes", "of rolls", "--player", "Ada", "--due", "2026-01-09", "--today", "2026-01-02"];
    assert_eq!(desk.ok(&first), "Task 1 is set for Ada; `journal undo` takes it back.\n");
    assert_eq!(desk.ok(&first), "Task 1 of Ada says that already.\n");
    assert!(desk.fails(2, &["task", "set", "--player", "Ada"]).contains("what is to be done"));
    assert!(desk.fails(2, &["task", "set", "x", "--player", "Ada", "--due", "soon"]).contains("--due"));
    let mut lines = history(6, |_| 4.0);
    lines.push(line(40, 4, 4.0));
    lines[6]["take"]["player"] = json!("Bo");
    desk.import(&lines);
    assert!(
        desk.fails(2, &["task", "set", "x"]).contains("several players")
            || desk.ok(&["task", "list"]).contains("rolls")
    );
    let of_loop = ["task", "set", "--player", "ada", "--loop", "1", "--tempo", "140", "--today", "2026-01-03", "--due"];
    assert!(desk.ok(&[&of_loop[..], &["2026-01-20"]].concat()).contains("Task 2"));
    assert!(desk.fails(2, &["task", "set", "--player", "Ada", "--loop", "1.99"]).contains("practice loop"));
    assert!(desk.fails(2, &["task", "set", "--player", "Ada", "--loop", "one"]).contains("second loop"));
    assert!(desk.fails(2, &["task", "set", "--player", "Ada", "--tempo", "0", "x"]).contains("1000 bpm"));
    let by_name = desk.path("late.toml");
    std::fs::copy(audio("late_inside.toml"), &by_name).unwrap();
    desk.ok(&["task", "set", "--player", "Bo", "-d", by_name.to_str().unwrap(), "--today", "2026-01-03"]);
    desk.ok(&["task", "set", "--player", "Bo", "Again:", "-d", "inside-pair", "--today", "2026-01-03"]);
    let list = desk.ok(&["task", "list", "--today", "2026-01-12"]);
    assert!(list.contains("Two minutes of rolls") && list.contains("overdue by 3 days (2026-01-09)"), "{list}");
    assert!(list.contains("due in 8 days (2026-01-20); not recorded since"), "{list}");
    assert!(list.contains("no day set; 1 take since, the fastest at"), "{list}");
    let told_of = |player: &str| told(&desk, &["task", "list", "--player", player, "--today", "2026-01-12"]);
    let tasks = told_of("ADA")["tasks"].clone();
    assert_eq!((tasks[0]["task"].as_i64(), tasks[0]["state"].as_str()), (Some(1), Some("overdue")));
    assert_eq!((tasks[1]["tempo_bpm"].as_f64(), tasks.as_array().unwrap().len()), (Some(140.0), 2));
    // In the plan, as of its day, first; in words and as JSON.
    let plan = desk.ok(&["plan", "--player", "Ada", "--today", "2026-01-12"]);
    let at = |text: &str| plan.find(text).unwrap_or_else(|| panic!("{text} is not in:\n{plan}"));
    assert!(at("overdue by 3 days") < at("due in 8 days") && at("due in 8 days") < at("1. "), "{plan}");
    let plan = told(&desk, &["plan", "--today", "2026-01-12"]);
    assert_eq!(
        (plan["tasks"].as_array().unwrap().len(), plan["tasks"][0]["when"].as_str()),
        (4, Some("overdue by 3 days (2026-01-09)"))
    );
    fits(&plan, "plan-1.json");
    assert!(told(&desk, &["plan", "--today", "2026-01-01"])["tasks"].as_array().unwrap().is_empty());
    // Ticked off, opened, deleted; each can be taken back.
    assert!(desk.ok(&["task", "done", "1", "2", "--today", "2026-01-12"]).contains("tasks 1, 2"));
    assert!(desk.ok(&["task", "done", "1"]).contains("Nothing is other"));
    assert_eq!(told_of("Ada")["tasks"], json!([]));
    assert!(desk.ok(&["task", "list", "--all", "--today", "2026-01-12"]).contains("done on 2026-01-12, 3 days late"));
    assert!(desk.ok(&["task", "open", "1"]).contains("task 1"));
    assert!(desk.fails(2, &["task", "delete", "1", "77"]).contains("no task 77"));
    assert!(desk.ok(&["task", "delete", "1"]).contains("Deleted task 1"));
    let undone = told(&desk, &["undo"]);
    assert_eq!((undone["what"].as_str(), undone["tasks"].clone()), (Some("deleting task 1"), json!([1])));
    for what in ["opening task 1", "ticking off 2 tasks", "setting task 4 for Bo"] {
        assert!(desk.ok(&["undo"]).contains(what), "{what}");
    }
    assert_eq!(told_of("Bo")["tasks"].as_array().unwrap().len(), 1);
    // Out and in again, with the takes.
    let exported = desk.ok(&["export"]);
    let other = Desk::new();
    std::fs::write(other.path("in.jsonl"), &exported).unwrap();
    let imported = told(&other, &["import", other.path("in.jsonl").to_str().unwrap()]);
    assert_eq!((imported["new"].as_u64(), imported["tasks"].as_u64()), (Some(7), Some(3)));
    assert_eq!(other.ok(&["export"]), exported);
    let task: Value = serde_json::from_str(exported.lines().last().unwrap()).unwrap();
    fits(&task, "journal-task-1.json");
    fits(&told_of("Ada"), "journal-tasks-1.json");
    assert!(desk.ok(&["check"]).contains("no damage found"));
}

#[test]
fn a_player_is_told_at_a_glance() {
    let desk = Desk::new();
    desk.import(&history(6, |_| 4.0));
    desk.ok(&["task", "set", "rolls", "--due", "2026-01-09", "--today", "2026-01-02"]);
    assert!(desk.fails(2, &["player", "Bo"]).contains("it knows: Ada"));
    let report = told(&desk, &["player", "aDA", "--today", "2026-01-12"]);
    fits(&report, "player-1.json");
    assert_eq!((report["player"].as_str(), report["takes"].as_u64()), (Some("Ada"), Some(6)));
    assert_eq!((report["last"]["take"].as_i64(), report["last"]["days_since"].as_i64()), (Some(6), Some(1)));
    let open = report["open"].as_array().unwrap();
    assert!(!open.is_empty() && open.iter().all(|f| f["since"] == "2026-01-01" && f["told_days"] == 6), "{open:?}");
    assert!(report["reached"][0]["text"].is_string() && report["next"][0]["what"].is_string());
    let text = desk.ok(&["player", "--today", "2026-01-12"]);
    let mut at = 0;
    for part in [
        "Ada, as of 2026-01-12",
        "Last take: 6, ",
        "Set",
        "overdue by 3 days",
        "Open",
        "since 2026-01-01, told on 6 of 6",
        "Tempo reached",
        "Next",
        "numbness",
    ] {
        let found = text[at..]
            .find(part)
            .unwrap_or_else(|| panic!("{part} is not in, or not after what stands before it:\n{text}"));
        at += found;
    }
    for width in ["40", "80"] {
        let mut command = takegauge(desk.dir.path());
        command.args(["journal", "player", "--journal-file"]).arg(desk.journal()).env("COLUMNS", width);
        let output = command.output().unwrap();
        assert!(output.status.success(), "{}", err(&output));
        let most: usize = width.parse().unwrap();
        assert!(out(&output).lines().all(|l| l.chars().count() <= most), "{width}:\n{}", out(&output));
    }
}
