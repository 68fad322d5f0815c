//! The journal at the command line.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{Desk, audio, err, history, line, scored_line, takegauge, text};
use serde_json::{Value, json};
use std::process::Stdio;

/// Steps that look like noise and are the same on every run: -1 to 1.
fn wobble(k: usize) -> f64 {
    ((k * 7919 + 13) % 101) as f64 / 50.0 - 1.0
}

#[test]
fn a_take_is_added_shown_exported_and_brought_back() {
    let desk = Desk::new();
    let (take, drill) = (audio("late_inside.flac"), audio("late_inside.toml"));
    let (take, drill) = (take.to_str().unwrap(), drill.to_str().unwrap());
    assert!(desk.fails(2, &["add", take, "--drill", drill]).contains("--player"));
    assert!(!desk.journal().exists());
    let details =
        ["--player", "Ada", "--picked", "best", "--tag", "evening", "--guitar", "black one", "--note", "cold hands"];
    let at = ["--recorded-at", "2026-03-01T23:30:00-08:00"];
    let added = desk.ok(&[&["add", take, "--drill", drill][..], &details, &at].concat());
    assert!(added.contains("take 1 of Ada"), "{added}");
    assert!(desk.ok(&["add", take, "--drill", drill]).contains("already take 1, left as it is"));
    let tagged = desk.ok(&["add", take, "--drill", drill, "--tag", "lesson", "--tag", "evening"]);
    assert!(tagged.contains("already take 1, now also lesson"), "{tagged}");
    assert!(desk.ok(&["add", take, "--drill", drill, "--tag", "lesson"]).contains("left as it is"));
    let list: Value = serde_json::from_str(&desk.ok(&["list", "--json", "-"])).unwrap();
    let row = &list["takes"][0];
    assert_eq!((row["day"].as_str(), row["picked"].as_str()), (Some("2026-03-01"), Some("best")));
    assert_eq!(row["recorded_at"], "2026-03-01T23:30:00-08:00");
    let shown = desk.ok(&["show", "1"]);
    assert!(
        shown.contains("cold hands") && shown.contains("best of several") && shown.contains("black one"),
        "{shown}"
    );
    assert!(desk.fails(2, &["show", "7"]).contains("no take 7"));
    for (filter, n) in [
        (&["--player", "Ada"][..], 1),
        (&["--player", "Bo"], 0),
        (&["--tag", "evening"], 1),
        (&["--since", "2026-03-02"], 0),
        (&["--until", "2026-03-01"], 1),
        (&["--tempo", "20-30"], 0),
        (&["--drill", drill], 1),
    ] {
        let list: Value = serde_json::from_str(&desk.ok(&[&["list", "--json", "-"][..], filter].concat())).unwrap();
        assert_eq!(list["takes"].as_array().unwrap().len(), n, "{filter:?}");
    }
    assert!(desk.fails(2, &["list", "--drill", "no such"]).contains("it has: "));
    assert!(desk.fails(2, &["list", "--since", "yesterday"]).contains("--since"));
    let exported = desk.ok(&["export"]);
    let second = Desk::new();
    std::fs::write(second.path("in.jsonl"), &exported).unwrap();
    second.ok(&["import", second.path("in.jsonl").to_str().unwrap()]);
    assert_eq!(second.ok(&["export"]), exported);
    assert!(desk.ok(&["export", "--format", "csv"]).starts_with("take,player,drill"));
    let jams = desk.path("jams");
    desk.ok(&["export", "--format", "jams", "--out", jams.to_str().unwrap()]);
    let jams: Value = serde_json::from_str(&std::fs::read_to_string(jams.join("take-1.jams")).unwrap()).unwrap();
    assert_eq!(jams["annotations"][0]["namespace"], "onset");
    assert!(desk.fails(2, &["export", "--format", "jams"]).contains("--out"));
    // The same take by `score`, which prints its report beside.
    let mut score = takegauge(desk.dir.path());
    score.args(["score", take, "--drill", drill, "--journal-file"]).arg(second.journal());
    let scored = score.output().unwrap();
    assert!(scored.status.success() && err(&scored).contains("take 1 of Ada"), "{}", err(&scored));
}

#[test]
fn deletion_asks_and_can_be_taken_back() {
    let desk = Desk::new();
    desk.import(&history(3, |_| 4.0));
    assert!(desk.fails(2, &["delete", "1,3"]).contains("--yes"));
    assert!(desk.fails(2, &["delete", "--yes"]).contains("which takes"));
    let before = desk.ok(&["export"]);
    assert!(desk.ok(&["delete", "1,3", "--yes"]).contains("Deleted 2 takes"));
    assert!(desk.ok(&["delete", "--player", "Ada", "--yes"]).contains("Deleted 1 take;"));
    assert_eq!(desk.ok(&["export"]), "");
    assert!(desk.ok(&["undo"]).contains("deleting 1 take"));
    assert!(desk.ok(&["undo"]).contains("take 1, 3"));
    assert!(desk.ok(&["undo"]).contains("nothing to take back"));
    assert_eq!(desk.ok(&["export"]), before);
    desk.ok(&["delete", "2", "--yes"]);
    assert!(desk.ok(&["compact"]).starts_with("1 deleted"));
    assert!(desk.ok(&["undo"]).contains("nothing to take back"));
    assert!(desk.ok(&["check"]).contains("2 takes, no damage found"));
    let copy = desk.path("copy.db");
    desk.ok(&["backup", copy.to_str().unwrap()]);
    assert!(desk.fails(2, &["backup", copy.to_str().unwrap()]).contains("there is a file of that name"));
}

#[test]
fn a_trend_says_what_it_can_and_what_it_cannot() {
    let few = Desk::new();
    few.import(&history(5, |k| 6.0 - k as f64));
    let said = few.ok(&["trend"]);
    assert!(said.contains("5 practice days so far; a trend needs at least 8"), "{said}");

    let better = Desk::new();
    let mut lines = history(30, |k| 9.0 - 0.15 * k as f64 + wobble(k));
    lines[4]["take"]["picked"] = json!("best");
    better.import(&lines);
    let trend: Value = serde_json::from_str(&better.ok(&["trend", "--json", "-"])).unwrap();
    let fit = &trend["rows"][0]["fit"];
    assert_eq!((fit["verdict"].as_str(), fit["span_days"].as_i64()), (Some("change"), Some(61)), "{fit}");
    let slope = fit["slope_a_week"].as_f64().unwrap();
    assert!((-0.65..-0.4).contains(&slope), "{slope}");
    let said = better.ok(&["trend"]);
    assert!(said.contains("Scatter of string changes fell from") && said.contains("Picked bests flatter"), "{said}");
    let plot = better.path("t.svg");
    better.ok(&["trend", "--plot", plot.to_str().unwrap()]);
    // Marks stand at whole days, the first of them at the first day.
    let first = trend["rows"][0]["days"][0]["date"].as_str().unwrap();
    let months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let part = |from: usize| first[from..from + 2].parse::<usize>().unwrap();
    let mark = format!("\n{} {}\n", part(8), months[part(5) - 1]);
    assert!(std::fs::read_to_string(plot).unwrap().contains(&mark), "{mark}");

    let same = Desk::new();
    same.import(&history(12, |k| 6.0 + 4.0 * wobble(k)));
    let said = same.ok(&["trend"]);
    assert!(said.contains("No change is shown between") && said.contains("would have shown a change of"), "{said}");
    assert!(said.lines().all(|l| l.chars().count() <= 100), "{said}");
    assert!(same.fails(2, &["trend", "--group", "9>8"]).contains("they have: "));
    assert!(same.fails(2, &["trend", "--player", "Bo"]).contains("no take passes"));
}

#[test]
fn two_takes_alone_cannot_tell_practice_from_luck() {
    let desk = Desk::new();
    desk.import(&history(2, |k| 4.0 + 3.0 * k as f64));
    assert!(desk.ok(&["compare", "1", "2"]).contains("practice cannot be told from luck"));
    let desk = Desk::new();
    // Twelve takes that differ by 1 ms on their own, then six with 5 ms more.
    desk.import(&history(18, |k| 5.0 + wobble(k) + if k >= 12 { 5.0 } else { 0.0 }));
    let report: Value = serde_json::from_str(&desk.ok(&["compare", "1-12", "13-18", "--json", "-"])).unwrap();
    let rows = report["rows"].as_array().unwrap();
    let row = rows.iter().find(|r| r["group"] == "change" && r["measure"] == "spread").unwrap();
    let [low, high] = [0, 1].map(|i| row["ci95"][i].as_f64().unwrap());
    assert!(low > 0.0 && low < 5.0 && high > 5.0 && row["p_adjusted"].as_f64().unwrap() < 0.05, "{row}");
    assert!(desk.ok(&["compare", "1-12", "13-18"]).contains("in the second set"));
    assert!(desk.ok(&["compare", "1", "2"]).contains("No difference is shown"));
    assert!(desk.fails(2, &["compare", "1", "1"]).contains("both sets"));
    assert!(desk.fails(2, &["compare", "1", "99"]).contains("no take 99"));
    assert!(desk.fails(2, &["compare", "1", "tag:rest"]).contains("no take has the tag"));
}

#[test]
fn a_plan_names_what_is_due_and_what_has_stalled() {
    let desk = Desk::new();
    desk.import(&history(20, |k| 4.0 + 0.3 * wobble(k)));
    // Practised every second day up to 2026-02-11.
    let plan: Value = serde_json::from_str(&desk.ok(&["plan", "--today", "2026-02-17", "--json", "-"])).unwrap();
    let row = &plan["lines"][0];
    assert_eq!((row["due"].as_bool(), row["stalled"].as_bool()), (Some(true), Some(true)), "{row}");
    assert_eq!((row["days_since"].as_i64(), row["practice_days"].as_i64()), (Some(6), Some(20)), "{row}");
    // The take that stands for all has no error and a wide margin.
    assert_eq!(row["next_tempo_bpm"], 177.0);
    let said = desk.ok(&["plan", "--today", "2026-02-17"]);
    assert!(said.contains("try 177 bpm") && said.contains("(due)") && said.contains("Stop at pain"), "{said}");
    let said = desk.ok(&["plan", "--today", "2026-02-09"]);
    assert!(!said.contains("(due)") && said.contains("Stop at pain"), "{said}");
    // Errors keep the tempo where it is; what has not moved is practised in another way.
    let desk = Desk::new();
    let mut lines = history(20, |k| 4.0 + 0.3 * wobble(k));
    for l in &mut lines {
        l["score"]["summary"]["missed"] = json!(9);
    }
    desk.import(&lines);
    let said = desk.ok(&["plan", "--today", "2026-02-12"]);
    assert!(
        said.contains("as a whole, change how it is") && said.contains("has not moved in 20 practice days"),
        "{said}"
    );
}

#[test]
fn what_cannot_be_opened_is_said_with_advice() {
    let desk = Desk::new();
    assert!(desk.fails(2, &["list"]).contains("journal add"));
    std::fs::write(desk.journal(), "these are words, not a journal ".repeat(300)).unwrap();
    let said = desk.fails(2, &["list"]);
    assert!(said.contains("is damaged") && said.contains("--salvage"), "{said}");
    let new = desk.path("new.db");
    assert!(desk.fails(2, &["check", "--salvage", new.to_str().unwrap()]).contains("is damaged"));
    assert!(!new.exists());
    // What is to be brought in and is no text, or no file.
    let desk = Desk::new();
    let noise = desk.path("noise.wav");
    std::fs::write(&noise, [0xff, 0xfe, 0x00, 0x80, b'\n']).unwrap();
    let said = desk.fails(2, &["import", noise.to_str().unwrap()]);
    assert!(said.contains("noise.wav, line 1: this is no text; is it a file that `journal export` wrote?"), "{said}");
    assert!(desk.fails(2, &["import", desk.dir.path().to_str().unwrap()]).contains("is a folder; name a file in it"));
}

/// A folder in which even the system's administrator cannot write.
#[cfg(target_os = "linux")]
#[test]
fn a_read_only_folder_is_said() {
    let desk = Desk::new();
    let file = desk.path("in.jsonl");
    std::fs::write(&file, text(&[scored_line()])).unwrap();
    let mut import = takegauge(desk.dir.path());
    import.args(["journal", "import"]).arg(&file).args(["--journal-file", "/sys/journal.db"]);
    let output = import.output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("/sys/journal.db"), "{}", err(&output));
}

/// A file that may not grow any further stands for a full disk.
#[cfg(unix)]
#[test]
fn where_nothing_more_can_be_written_it_says_so_and_keeps_what_it_has() {
    let desk = Desk::new();
    let lines: Vec<Value> = (0..400).map(|k| line(k, k % 300, 4.0)).collect();
    std::fs::write(desk.path("in.jsonl"), text(&lines)).unwrap();
    let mut shell = std::process::Command::new("sh");
    shell.args(["-c", "trap '' XFSZ; ulimit -f 1500; exec \"$@\"", "sh", env!("CARGO_BIN_EXE_takegauge")]);
    shell.args(["journal", "import"]).arg(desk.path("in.jsonl")).arg("--journal-file").arg(desk.journal());
    let output = shell.output().unwrap();
    let said = err(&output);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("cannot write to the journal") && said.contains("room on the disk"), "{said}");
    let (told, _) = said.split_once(" new, ").unwrap();
    let confirmed: usize = told.rsplit(' ').next().unwrap().parse().unwrap();
    assert!((1..400).contains(&confirmed), "{said}");
    assert!(desk.ok(&["check"]).contains(&format!("{confirmed} takes, no damage found")));
    desk.import(&lines);
    assert!(desk.ok(&["check"]).contains("400 takes, no damage found"));
}

#[test]
fn two_programs_at_once_add_all_their_takes() {
    let desk = Desk::new();
    scored_line();
    let feed = |from: usize| {
        let file = desk.path(&format!("in{from}.jsonl"));
        std::fs::write(&file, text(&(from..from + 500).map(|k| line(k, k % 300, 4.0)).collect::<Vec<_>>())).unwrap();
        let mut import = takegauge(desk.dir.path());
        import.args(["journal", "import"]).arg(file).arg("--journal-file").arg(desk.journal());
        import.stdout(Stdio::null()).spawn().unwrap()
    };
    let mut both = [feed(0), feed(1000)];
    for child in &mut both {
        assert!(child.wait().unwrap().success());
    }
    assert!(desk.ok(&["check"]).contains("1000 takes, no damage found"));
}
