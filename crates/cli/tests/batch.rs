//! Many takes at the command line.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{audio, err, out, takegauge};
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Output, Stdio};

/// A folder with two takes, a file that is none, and their drill.
fn folder() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    std::fs::create_dir(dir.path().join("in")).unwrap();
    for (from, to) in
        [("late_inside.flac", "in/b.flac"), ("mixed_errors.flac", "in/a.flac"), ("late_inside.toml", "in/drill.toml")]
    {
        std::fs::copy(audio(from), dir.path().join(to)).unwrap();
    }
    std::fs::write(dir.path().join("in/c.wav"), "this is no sound").unwrap();
    std::fs::write(dir.path().join("in/notes.txt"), "not a take").unwrap();
    dir
}

fn paths(text: &str) -> Vec<String> {
    text.lines()
        .map(|l| serde_json::from_str::<Value>(l).unwrap()["take"]["path"].as_str().unwrap().to_owned())
        .map(|p| Path::new(&p).file_name().unwrap().to_string_lossy().into_owned())
        .collect()
}

fn batch(dir: &Path, args: &[&str]) -> Output {
    takegauge(dir).arg("batch").args(args).output().unwrap()
}

#[test]
fn lines_come_in_order_and_one_bad_file_stops_nothing() {
    let dir = folder();
    let input = dir.path().join("in");
    let done = batch(dir.path(), &[input.to_str().unwrap()]);
    assert_eq!(done.status.code(), Some(1));
    assert_eq!(paths(&out(&done)), ["a.flac", "b.flac"]);
    let said = err(&done);
    assert!(said.contains("c.wav") && said.contains("1 of 3 takes could not be scored"), "{said}");

    // The same from a list on standard input, on one thread: the same bytes.
    let mut list = takegauge(dir.path());
    list.args(["batch", "-", "--jobs", "1"]).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = list.spawn().unwrap();
    let names: String = ["a.flac", "b.flac"].iter().map(|n| format!("{}\n", input.join(n).display())).collect();
    child.stdin.take().unwrap().write_all(names.as_bytes()).unwrap();
    let listed = child.wait_with_output().unwrap();
    assert!(listed.status.success(), "{}", err(&listed));
    assert_eq!(out(&listed), out(&done));
}

#[test]
fn resume_scores_what_is_missing_and_mends_a_cut_line() {
    let dir = folder();
    let (a, b, to) = (dir.path().join("in/a.flac"), dir.path().join("in/b.flac"), dir.path().join("out.jsonl"));
    let [a, b, to] = [&a, &b, &to].map(|p| p.to_str().unwrap());
    assert!(batch(dir.path(), &[a, "--out", to]).status.success());
    let first = std::fs::read_to_string(to).unwrap();
    let refused = batch(dir.path(), &[a, "--out", to]);
    assert!(refused.status.code() == Some(2) && err(&refused).contains("--resume"));
    std::fs::write(to, format!("{first}{{\"take\":{{\"path\":\"{b}")).unwrap();
    let resumed = batch(dir.path(), &[a, b, "--out", to, "--resume"]);
    assert!(resumed.status.success() && err(&resumed).contains("1 take scored, 1 there already"), "{}", err(&resumed));
    let text = std::fs::read_to_string(to).unwrap();
    assert!(text.starts_with(&first));
    assert_eq!(paths(&text), ["a.flac", "b.flac"]);
    assert_eq!(batch(dir.path(), &[a, "--resume"]).status.code(), Some(2));
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let dir = folder();
    let (a, b) = (dir.path().join("in/a.flac"), dir.path().join("in/b.flac"));
    let mut run = takegauge(dir.path());
    run.args(["batch", "--jobs", "1"]).args([&a, &b, &a]).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = run.spawn().unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    assert_eq!(paths(&line), ["a.flac"]);
    let done = child.wait_with_output().unwrap();
    assert!(done.status.success() && err(&done).is_empty(), "{}", err(&done));
}

#[test]
fn an_empty_folder_is_said() {
    let dir = tempfile::tempdir().unwrap();
    let done = batch(dir.path(), &[dir.path().to_str().unwrap()]);
    assert!(done.status.code() == Some(2) && err(&done).contains("no take"));
    // What is not there cannot be read; what was written to has a folder.
    let none = batch(dir.path(), &["nowhere.wav", "--drill", "inside-pair"]);
    assert!(none.status.code() == Some(2) && err(&none).contains("nowhere.wav: no such file"), "{}", err(&none));
    let table = dir.path().join("takes.parquet");
    let none = batch(dir.path(), &["nowhere.wav", "--out", table.to_str().unwrap()]);
    assert_eq!(none.status.code(), Some(2), "{}", err(&none));
    let out = dir.path().join("no/scores.jsonl");
    let none = batch(dir.path(), &["nowhere.wav", "--out", out.to_str().unwrap()]);
    assert!(none.status.code() == Some(2) && err(&none).contains("no is not there; make the folder"), "{}", err(&none));
}

#[test]
fn tables_hold_a_row_a_take_and_a_row_a_note_and_the_broken_one_with_its_reason() {
    let dir = folder();
    let (input, takes, notes) =
        (dir.path().join("in"), dir.path().join("takes.parquet"), dir.path().join("notes.parquet"));
    let [input, takes, notes] = [&input, &takes, &notes].map(|p| p.to_str().unwrap());
    let done = batch(dir.path(), &[input, "--out", takes, "--notes", notes]);
    assert_eq!(done.status.code(), Some(1));
    assert!(
        err(&done).contains("1 of 3 takes could not be scored") && err(&done).contains("its reason"),
        "{}",
        err(&done)
    );
    assert!(out(&done).is_empty());

    let rows = read(takes);
    let column = |rows: &[parquet::record::Row], name: &str| -> Vec<String> {
        let value = |row: &parquet::record::Row| row.get_column_iter().find(|(n, _)| *n == name).unwrap().1.to_string();
        rows.iter().map(value).collect()
    };
    let named: Vec<String> =
        column(&rows, "path").iter().map(|p| p.rsplit('/').next().unwrap().replace('"', "")).collect();
    assert_eq!(named, ["a.flac", "b.flac", "c.wav"], "in the order given");
    assert_eq!(column(&rows, "status"), ["\"scored\"", "\"scored\"", "\"unreadable\""]);
    assert!(column(&rows, "reason")[2].contains("c.wav"), "{:?}", column(&rows, "reason"));

    // The same figures as in the lines of JSON.
    let lines = batch(dir.path(), &[input]);
    let scores: Vec<Value> = out(&lines).lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    let played: Vec<String> = scores.iter().map(|s| s["summary"]["played"].to_string()).collect();
    assert_eq!(column(&rows, "played")[..2], played);
    assert_eq!(column(&rows, "played")[2], "null");
    let of_notes = scores.iter().map(|s| s["notes"].as_array().unwrap().len()).sum::<usize>();
    assert_eq!(read(notes).len(), of_notes);

    // Without the broken one, on one thread: the same rows.
    let (again, b) = (dir.path().join("again.parquet"), dir.path().join("in/b.flac"));
    let (a, again) = (dir.path().join("in/a.flac"), again.to_str().unwrap());
    let done = batch(dir.path(), &[a.to_str().unwrap(), b.to_str().unwrap(), "--jobs", "1", "--out", again]);
    assert!(done.status.success() && err(&done).contains("2 takes scored"), "{}", err(&done));
    assert_eq!(read(again), rows[..2]);
}

fn read(file: &str) -> Vec<parquet::record::Row> {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    let reader = SerializedFileReader::new(std::fs::File::open(file).unwrap()).unwrap();
    reader.get_row_iter(None).unwrap().map(Result::unwrap).collect()
}

#[test]
fn what_no_table_can_do_is_told_before_any_work() {
    let dir = folder();
    let input = dir.path().join("in/a.flac");
    let input = input.to_str().unwrap();
    let told = |args: &[&str], what: &str| {
        let done = batch(dir.path(), &[&[input], args].concat());
        assert!(done.status.code() == Some(2) && err(&done).contains(what), "{args:?}: {}", err(&done));
    };
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    told(&["--out", &path("t.parquet"), "--resume"], "a Parquet file is written whole or not at all");
    told(&["--out", &path("t.jsonl"), "--notes", &path("n.parquet")], "--notes goes with a table of takes");
    told(&["--notes", &path("n.parquet")], "--out");
    told(&["--out", &path("t.parquet"), "--notes", &path("n.csv")], ".parquet");
    told(&["--out", &path("t.parquet"), "--notes", &path("in/../t.parquet")], "both tables would go into this file");
    told(&["--channel", "fifth"], "--channel");
    told(&["--out", &path("no/such/t.parquet")], "no/such");
    let left: Vec<_> = std::fs::read_dir(dir.path()).unwrap().flatten().map(|e| e.file_name()).collect();
    assert_eq!(left, ["in"], "nothing is left behind");
}
