//! What the end-to-end tests share: the binary, the committed takes, and journals made of one scored take.

#![allow(dead_code, reason = "each test file uses a part of it")]

use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The binary, away from the user's own settings and journal.
pub(crate) fn takegauge(home: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_takegauge"));
    command
        .env("HOME", home)
        .env_remove("XDG_CONFIG_HOME")
        .env_remove("XDG_DATA_HOME")
        .env("TZ", "UTC")
        .env("COLUMNS", "100");
    command
}

/// A committed take or its drill.
pub(crate) fn audio(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../test-audio").join(name)
}

pub(crate) fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

pub(crate) fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A folder of its own with a journal in it.
pub(crate) struct Desk {
    pub(crate) dir: tempfile::TempDir,
}

impl Desk {
    pub(crate) fn new() -> Self {
        Self { dir: tempfile::tempdir().unwrap() }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub(crate) fn journal(&self) -> PathBuf {
        self.path("journal.db")
    }

    /// `takegauge journal --journal-file ... ARGS`
    pub(crate) fn run(&self, args: &[&str]) -> Output {
        takegauge(self.dir.path()).arg("journal").arg("--journal-file").arg(self.journal()).args(args).output().unwrap()
    }

    /// The same, which must go well; what it printed.
    pub(crate) fn ok(&self, args: &[&str]) -> String {
        let output = self.run(args);
        assert!(output.status.success(), "{args:?}: {}", err(&output));
        out(&output)
    }

    /// The same, which must fail with this code; what it complained of.
    pub(crate) fn fails(&self, code: i32, args: &[&str]) -> String {
        let output = self.run(args);
        assert_eq!(output.status.code(), Some(code), "{args:?}: {} {}", out(&output), err(&output));
        err(&output)
    }

    /// Takes in, as JSON Lines.
    pub(crate) fn import(&self, lines: &[Value]) {
        let file = self.path("in.jsonl");
        std::fs::write(&file, text(lines)).unwrap();
        self.ok(&["import", file.to_str().unwrap()]);
    }
}

pub(crate) fn text(lines: &[Value]) -> String {
    lines.iter().map(|l| format!("{l}\n")).collect()
}

/// One line of an export: a committed take, scored once for the whole test run.
pub(crate) fn scored_line() -> Value {
    static LINE: std::sync::OnceLock<Value> = std::sync::OnceLock::new();
    LINE.get_or_init(|| {
        let desk = Desk::new();
        let (take, drill) = (audio("late_inside.flac"), audio("late_inside.toml"));
        let at = ["--player", "Ada", "--recorded-at", "2026-01-01T18:00:00+01:00", "--picked", "all", "-q"];
        desk.ok(&[&["add", take.to_str().unwrap(), "--drill", drill.to_str().unwrap()][..], &at].concat());
        serde_json::from_str(&desk.ok(&["export"])).unwrap()
    })
    .clone()
}

/// Take `k` of a made-up history: recorded on day `day` of 2026, with this scatter of its string changes.
pub(crate) fn line(k: usize, day: usize, spread_ms: f64) -> Value {
    let mut line = scored_line();
    line["take"]["audio_sha256"] = json!(format!("{k:064x}"));
    line["take"]["path"] = json!(format!("takes/{k}.wav"));
    let date = |day: usize| format!("2026-{:02}-{:02}", 1 + day / 28, 1 + day % 28);
    line["take"]["recorded_at"] = json!(format!("{}T18:{:02}:{:02}+01:00", date(day), k / 60 % 60, k % 60));
    let groups = line["score"]["groups"].as_array_mut().unwrap();
    let changes = groups.iter_mut().find(|g| g["group"] == "change").unwrap();
    changes["spread_ms"] = json!((spread_ms * 1000.0).round() / 1000.0);
    changes["spread_ci95_ms"] = json!([spread_ms - 0.5, spread_ms + 0.5]);
    line
}

/// A take every second day, with these scatters.
pub(crate) fn history(days: usize, spread: impl Fn(usize) -> f64) -> Vec<Value> {
    (0..days).map(|k| line(k, k * 2, spread(k))).collect()
}

/// Holds an answer against its JSON Schema in `schemas/`, which also refuses a field that no schema names, wherever it is.
#[track_caller]
pub(crate) fn fits(answer: &Value, schema: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../schemas").join(schema);
    let contract: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let validator = jsonschema::draft202012::new(&contract).unwrap();
    let wrong: Vec<String> = validator.iter_errors(answer).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert!(wrong.is_empty(), "{schema}: {wrong:#?}");
    for place in objects(answer, String::new()) {
        let mut more = answer.clone();
        more.pointer_mut(&place).unwrap()["no such field"] = json!(1);
        // A score inside a line of an export has a schema of its own.
        let own = place.starts_with("/score") && schema == "journal-take-1.json";
        assert!(own || !validator.is_valid(&more), "{schema} lets an unknown field through at {place:?}");
    }
}

/// Where an answer holds objects, as JSON pointers; of a list the first alone.
fn objects(value: &Value, at: String) -> Vec<String> {
    match value {
        Value::Object(fields) => {
            let inner: Vec<String> = fields.iter().flat_map(|(k, v)| objects(v, format!("{at}/{k}"))).collect();
            [vec![at], inner].concat()
        }
        Value::Array(items) => items.first().map(|v| objects(v, format!("{at}/0"))).unwrap_or_default(),
        _ => Vec::new(),
    }
}
