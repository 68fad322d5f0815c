//! How the journal's commands tell what they did, and what they ask.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{Desk, audio, err, history, line, out, takegauge};
use serde_json::{Value, json};
use takegauge_journal::{Filter, Journal};
use takegauge_review::GroupKey;

#[test]
fn tables_fit_the_terminal() {
    let desk = Desk::new();
    let mut lines = history(3, |_| 4.0);
    for (l, name) in lines.iter_mut().zip(["Ada", "Somebody with quite a long name", "Bo"]) {
        l["take"]["player"] = json!(name);
        l["take"]["tags"] = json!(["a tag of some length", "another one that is longer still"]);
    }
    desk.import(&lines);
    for width in [40, 60, 70, 80, 100, 140] {
        for args in [&["list"][..], &["trend", "--player", "Bo"], &["compare", "1", "2"], &["plan"], &["show", "1"]] {
            let mut command = takegauge(desk.dir.path());
            command.arg("journal").args(args).arg("--journal-file").arg(desk.journal());
            let output = command.env("COLUMNS", width.to_string()).output().unwrap();
            let text = out(&output);
            assert!(!text.is_empty() || !output.status.success(), "{args:?}: {}", err(&output));
            // The report of one take names groups of notes in up to 40 columns; a path is never broken.
            let room = if args[0] == "show" { width.max(60) } else { width };
            let fits = |l: &str| l.chars().count() <= room || l.contains("late_inside.flac");
            assert!(text.lines().all(fits), "{args:?} at {width}:\n{text}");
        }
    }
}

/// Where a take was is kept in full, and whether it was picked is asked, given or said to be missing.
#[test]
fn a_take_is_found_from_everywhere_and_says_whether_it_was_picked() {
    let desk = Desk::new();
    let (take, drill) = (audio("late_inside.flac"), audio("late_inside.toml"));
    std::fs::copy(&take, desk.path("t.flac")).unwrap();
    std::fs::copy(&drill, desk.path("drill.toml")).unwrap();
    let run = |args: &[&str]| {
        let mut command = takegauge(desk.dir.path());
        command.current_dir(desk.dir.path()).args(args).args(["--journal-file", "journal.db"]);
        let output = command.output().unwrap();
        assert!(output.status.success(), "{args:?}: {}", err(&output));
        output
    };
    let row = || {
        let list: Value = serde_json::from_str(&desk.ok(&["list", "--json", "-"])).unwrap();
        list["takes"][0].clone()
    };
    let said = err(&run(&["score", "t.flac", "--player", "Ada", "--json", "s.json"]));
    assert!(said.contains("--picked all or --picked best") && said.contains("take 1 of Ada"), "{said}");
    assert_eq!(row()["path"].as_str(), desk.path("t.flac").canonicalize().unwrap().to_str());
    assert_eq!(row()["picked"], "unknown");
    desk.ok(&["delete", "1", "--yes"]);
    let said = err(&run(&["score", "t.flac", "--player", "Ada", "--picked", "best", "--json", "s.json"]));
    assert!(!said.contains("--picked"), "{said}");
    assert_eq!(row()["picked"], "best");
    // What was said before stays where nothing else is said; a file that was moved is the same take.
    std::fs::rename(desk.path("t.flac"), desk.path("moved.flac")).unwrap();
    let said = out(&run(&["journal", "add", "moved.flac", "--again", "--tag", "warm", "-q"]));
    assert!(said.contains("`journal undo` brings back what was there"), "{said}");
    assert_eq!((row()["picked"].as_str(), row()["tags"].clone()), (Some("best"), json!(["warm"])));
    let said = out(&run(&["journal", "add", "moved.flac", "--again", "-q"]));
    assert!(said.contains("it was there already"), "{said}");
    assert_eq!(row()["path"].as_str(), desk.path("moved.flac").canonicalize().unwrap().to_str());
    desk.ok(&["delete", "2", "--yes"]);
    run(&["watch", ".", "--once", "--player", "Ada", "--picked", "all"]);
    assert_eq!(row()["picked"], "all");
    let mut alone = takegauge(desk.dir.path());
    let refused = alone.args(["score", "t.flac", "--drill", "drill.toml", "--picked", "all"]).output().unwrap();
    assert_eq!(refused.status.code(), Some(2), "a choice without a journal: {}", err(&refused));
}

#[test]
fn settings_stand_in_for_options() {
    let desk = Desk::new();
    desk.import(&history(2, |_| 4.0));
    std::fs::write(desk.path("set.toml"), "player = 'Bo'\njournal = 'journal.db'\n").unwrap();
    let run = |args: &[&str]| {
        takegauge(desk.dir.path()).arg("--config").arg(desk.path("set.toml")).args(args).output().unwrap()
    };
    assert!(out(&run(&["journal", "list"])).contains("2 takes"));
    assert!(err(&run(&["journal", "trend"])).contains("no take passes"), "Bo has no takes");
    assert!(out(&run(&["journal", "trend", "--player", "Ada"])).contains("2 practice days"));
    // Open strings where neither option nor file says them.
    std::fs::write(desk.path("set.toml"), "tuning = 'drop D'\n").unwrap();
    let make = ["drill", "make", "A minor pentatonic", "--strings", "6-5"];
    assert!(out(&run(&make)).contains("D2 A2 D3 G3 B3 E4"));
    assert!(out(&run(&[&make[..], &["--tuning", "standard"]].concat())).contains("E2 A2 D3 G3 B3 E4"));
    std::fs::write(desk.path("set.toml"), "plyer = 'Bo'\n").unwrap();
    assert!(err(&run(&["journal", "list"])).contains("set.toml"));
}

#[test]
fn answers_fit_their_schemas() {
    let desk = Desk::new();
    desk.import(&history(12, |k| 4.0 + (k * 7 % 5) as f64));
    for (args, schema) in [
        (&["list"][..], "journal-list-1.json"),
        (&["trend"], "trend-1.json"),
        (&["compare", "1-3", "8,9"], "compare-1.json"),
        (&["plan", "--today", "2026-02-01"], "plan-1.json"),
    ] {
        let answer: Value = serde_json::from_str(&desk.ok(&[args, &["--json", "-"]].concat())).unwrap();
        common::fits(&answer, schema);
    }
    let few = Desk::new();
    few.import(&history(2, |_| 4.0));
    for (args, schema) in [(&["trend"][..], "trend-1.json"), (&["compare", "1", "2"], "compare-1.json")] {
        common::fits(&serde_json::from_str(&few.ok(&[args, &["--json", "-"]].concat())).unwrap(), schema);
    }
    let line = desk.ok(&["export"]).lines().next().unwrap().to_owned();
    let line: Value = serde_json::from_str(&line).unwrap();
    common::fits(&line, "journal-take-1.json");
    common::fits(&line["score"], "score-1.json");
}

#[test]
fn what_was_done_is_told_as_json_and_nothing_else() {
    let desk = Desk::new();
    let told = |args: &[&str]| -> Value { serde_json::from_str(&desk.ok(&[args, &["--json", "-"]].concat())).unwrap() };
    std::fs::write(desk.path("in.jsonl"), common::text(&[line(0, 0, 4.0), line(1, 1, 4.0)])).unwrap();
    let file = desk.path("in.jsonl");
    let imported = told(&["import", file.to_str().unwrap(), "-v"]);
    assert_eq!((imported["new"].as_u64(), imported["there_already"].as_u64()), (Some(2), Some(0)));
    let (take, drill) = (audio("late_inside.flac"), audio("late_inside.toml"));
    std::fs::copy(&take, desk.path("t.flac")).unwrap();
    std::fs::write(desk.path("bad.wav"), "no sound").unwrap();
    let (take, bad) = (desk.path("t.flac"), desk.path("bad.wav"));
    let output = desk.run(&[
        "add",
        take.to_str().unwrap(),
        bad.to_str().unwrap(),
        "--drill",
        drill.to_str().unwrap(),
        "--json",
        "-",
        "-q",
    ]);
    assert_eq!(output.status.code(), Some(1), "{}", err(&output));
    let added: Value = serde_json::from_str(&out(&output)).unwrap();
    let rows = &added["takes"];
    assert_eq!(
        (rows[0]["take"].as_u64(), rows[0]["state"].as_str(), added["player"].as_str()),
        (Some(3), Some("new"), Some("Ada"))
    );
    assert!(rows[1]["take"].is_null() && rows[1]["why"].as_str().unwrap().contains("bad.wav"), "{rows}");
    assert_eq!(told(&["check"])["takes"], 3);
    assert_eq!(told(&["delete", "2", "--yes"])["takes"], json!([2]));
    assert_eq!(told(&["undo"])["takes"], json!([2]));
    assert_eq!((told(&["undo"])["what"].clone(), told(&["compact"])["forgotten"].as_u64()), (Value::Null, Some(0)));
    let copy = desk.path("copy.db");
    assert_eq!(told(&["backup", copy.to_str().unwrap()])["path"].as_str(), copy.to_str());
    let saved = desk.path("saved.db");
    assert_eq!(told(&["check", "--salvage", saved.to_str().unwrap()])["takes"], 3);
}

/// Recordings through the binary, the journal read by itself: what it keeps is what the reports say, figure by figure.
#[test]
fn the_journal_keeps_every_figure_of_every_report() {
    let desk = Desk::new();
    let takes = [
        "acoustic_room",
        "driven_ticks_soft",
        "ladder_140",
        "ladder_220",
        "late_inside",
        "mixed_errors",
        "restarts",
        "smear_one_pair",
    ];
    let mut reports = Vec::new();
    for name in takes {
        let mut score = takegauge(desk.dir.path());
        score.arg("score").arg(audio(&format!("{name}.flac"))).arg("--drill").arg(audio(&format!("{name}.toml")));
        score.args(["--player", "Ada", "-q", "--json", "-", "--journal-file"]).arg(desk.journal());
        let output = score.output().unwrap();
        assert!(output.status.success(), "{name}: {}", err(&output));
        reports.push(serde_json::from_slice::<Value>(&output.stdout).unwrap());
    }
    let rows = Journal::open(&desk.journal()).unwrap().figure_rows(&Filter::default()).unwrap();
    let (mut compared, mut slips) = (0, 0);
    for (report, name) in reports.iter().zip(takes) {
        let kept: Vec<_> = rows.iter().filter(|r| r.take.path.contains(&format!("{name}.flac"))).collect();
        let (whole, groups) = kept.split_first().unwrap();
        let told = report["groups"].as_array().unwrap();
        assert!(whole.group == GroupKey::WholeTake && groups.len() == told.len() && !told.is_empty(), "{name}");
        for row in groups {
            let of = told.iter().find(|g| g["group"] == row.group.to_string()).unwrap();
            assert_eq!(of["label"], row.label.as_str());
            let figures = serde_json::to_value(&row.figures).unwrap();
            // Beside the figures a row has its two names and two sentences.
            assert_eq!(figures.as_object().unwrap().len() + 4, of.as_object().unwrap().len());
            for (key, figure) in figures.as_object().unwrap() {
                assert_eq!(figure, &of[key], "{name}, {}: {key}", row.group);
                compared += 1;
            }
        }
        let (figures, summary) = (serde_json::to_value(&whole.figures).unwrap(), &report["summary"]);
        for (key, of) in [("missed", "missed"), ("wrong_pitch", "wrong_pitch"), ("extra", "extra"), ("slips", "slips")]
        {
            assert_eq!(figures[key], summary[of], "{name}: {key}");
        }
        assert_eq!(figures["reached"], summary["notes_reached"]);
        assert_eq!(figures["spread_ms"], summary["spread_ms"]["value"]);
        assert_eq!(figures["evenness_ms"], summary["ioi_sd_ms"]["value"]);
        slips += figures["slips"].as_u64().unwrap();
    }
    assert!(compared > 5_000 && slips > 0, "{compared} figures compared, {slips} slips among the takes");
}
