//! What once broke the program from outside, each test named by what happened.
#![allow(clippy::unwrap_used)] // test code

mod common;

use common::{Desk, audio, err, out, takegauge};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const MINE: &str = "written by hand\n";

/// Runs with every output's name taken: it is refused and left, or its replacement is said.
#[test]
fn drill_make_alter_and_import_wrote_over_files_in_silence() {
    let desk = Desk::new();
    let (take, drill) = (audio("late_inside.flac"), audio("late_inside.toml"));
    let (take, drill) = (take.to_str().unwrap(), drill.to_str().unwrap());
    let at = |name: &str| desk.path(name).to_str().unwrap().to_owned();
    assert!(
        takegauge(desk.dir.path())
            .args(["drill", "export", drill, "-o", &at("source.mid")])
            .status()
            .unwrap()
            .success()
    );
    assert!(
        takegauge(desk.dir.path())
            .args(["click", drill, "-o", &at("first.wav"), "--tempo", "100,120", "--table", &at("t.csv")])
            .status()
            .unwrap()
            .success()
    );
    let journal = at("journal.db");
    let kept = takegauge(desk.dir.path())
        .args([
            "journal",
            "add",
            take,
            "--drill",
            drill,
            "--journal-file",
            &journal,
            "--player",
            "Ada",
            "--picked",
            "all",
        ])
        .output()
        .unwrap();
    assert!(kept.status.success(), "{}", err(&kept));
    let words = |text: &str| text.split(' ').map(str::to_owned).collect::<Vec<_>>();
    let score = |rest: &str| [vec!["score".into(), take.into(), "--drill".into(), drill.into()], words(rest)].concat();
    let in_journal = |rest: &str| [words("journal --journal-file"), vec![journal.clone()], words(rest)].concat();
    let takes = |rest: &str| {
        [vec!["ladder".into(), take.into(), take.into(), "--drill".into(), drill.into()], words(rest)].concat()
    };
    // The file that is written, then the command.
    let cases: Vec<(&str, Vec<String>)> = vec![
        ("o.toml", [words("drill make scale --root A2 -o"), vec![at("o.toml")]].concat()),
        ("o.toml", [words("drill alter"), vec![drill.into()], words("--mirror -o"), vec![at("o.toml")]].concat()),
        ("o.toml", [words("drill import"), vec![at("source.mid")], words("-o"), vec![at("o.toml")]].concat()),
        ("o.mid", [words("drill export"), vec![drill.into()], words("-o"), vec![at("o.mid")]].concat()),
        ("o.wav", [words("click"), vec![drill.into()], words("-o"), vec![at("o.wav")]].concat()),
        (
            "o.csv",
            [
                words("click"),
                vec![drill.into()],
                words("--tempo 100,120 -o"),
                vec![at("o2.wav")],
                words("--table"),
                vec![at("o.csv")],
            ]
            .concat(),
        ),
        ("o.json", score(&format!("--json {}", at("o.json")))),
        ("o-notes.csv", score(&format!("--csv {}", at("o")))),
        ("o.html", score(&format!("--html {}", at("o.html")))),
        ("o-take.svg", score(&format!("--plot {}", at("o.svg")))),
        ("m.wav", score(&format!("--markers {}", at("m.wav")))),
        ("m.csv", score(&format!("--markers {}", at("m.csv")))),
        ("on.json", vec!["onsets".into(), take.into(), "--json".into(), at("on.json")]),
        ("l.html", takes(&format!("--html {}", at("l.html")))),
        ("j.jsonl", in_journal(&format!("export -o {}", at("j.jsonl")))),
        ("l.json", in_journal(&format!("list --json {}", at("l.json")))),
        ("b.db", in_journal(&format!("backup {}", at("b.db")))),
        ("s.db", in_journal(&format!("check --salvage {}", at("s.db")))),
        (
            "lines.jsonl",
            vec!["batch".into(), take.into(), "--drill".into(), drill.into(), "--out".into(), at("lines.jsonl")],
        ),
    ];
    for (name, args) in cases {
        std::fs::write(desk.path(name), MINE).unwrap();
        let done = takegauge(desk.dir.path()).args(&args).output().unwrap();
        let still = std::fs::read(desk.path(name)).unwrap() == MINE.as_bytes();
        let said = err(&done);
        let loud = said.contains("was there and is replaced") && said.contains(name);
        assert!(still || loud, "{args:?} wrote over {name} in silence: {said}");
        assert!(!still || !done.status.success() || !said.is_empty(), "{args:?}: {said}");
        let _ = std::fs::remove_file(desk.path(name));
    }
    // A recording is never written over, whatever the option.
    std::fs::copy(take, desk.path("precious.flac")).unwrap();
    let done =
        takegauge(desk.dir.path()).args(score(&format!("--json {} --replace", at("precious.flac")))).output().unwrap();
    assert!(done.status.code() == Some(2) && err(&done).contains("is a recording"), "{}", err(&done));
    assert_eq!(std::fs::read(desk.path("precious.flac")).unwrap(), std::fs::read(take).unwrap());
    // With --replace what was made is made again.
    std::fs::write(desk.path("o.toml"), MINE).unwrap();
    let again = ["drill", "alter", drill, "--mirror", "--replace", "-o", &at("o.toml")];
    assert!(takegauge(desk.dir.path()).args(again).status().unwrap().success());
    assert_ne!(std::fs::read(desk.path("o.toml")).unwrap(), MINE.as_bytes());
}

#[test]
fn one_caf_of_132_bytes_ended_a_batch() {
    let desk = Desk::new();
    let folder = desk.path("takes");
    std::fs::create_dir(&folder).unwrap();
    let bomb = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/corpus/audio");
    std::fs::copy(bomb.join("34-gb-for-4-thousand-million-frames-a-packet.caf"), folder.join("a.caf")).unwrap();
    std::fs::copy(audio("late_inside.flac"), folder.join("b.flac")).unwrap();
    std::fs::copy(audio("late_inside.toml"), folder.join("drill.toml")).unwrap();
    let done = takegauge(desk.dir.path()).arg("batch").arg(&folder).output().unwrap();
    assert_eq!((done.status.code(), out(&done).lines().count()), (Some(1), 1), "{}", err(&done));
    assert!(err(&done).contains("a.caf: it holds 4294967295 frames a packet"), "{}", err(&done));
}

#[cfg(unix)]
#[test]
fn a_batch_stopped_silently_at_a_name_that_is_not_utf_8_and_took_two_for_one() {
    use std::os::unix::ffi::OsStrExt;
    let desk = Desk::new();
    std::fs::copy(audio("late_inside.toml"), desk.path("drill.toml")).unwrap();
    let names: [&[u8]; 3] = [b"one.flac", b"tw\xff.flac", b"tw\xfe.flac"];
    let mut list = Vec::new();
    for name in names {
        let path = desk.dir.path().join(std::ffi::OsStr::from_bytes(name));
        std::fs::copy(audio("late_inside.flac"), &path).unwrap();
        list.extend_from_slice(path.as_os_str().as_bytes());
        list.push(b'\n');
    }
    let run = |resume: bool| {
        let mut command = takegauge(desk.dir.path());
        command.args(["batch", "-", "--out"]).arg(desk.path("lines.jsonl"));
        if resume {
            command.arg("--resume");
        }
        let mut child = command.stdin(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        child.stdin.take().unwrap().write_all(&list).unwrap();
        child.wait_with_output().unwrap()
    };
    let done = run(false);
    assert!(done.status.success(), "{}", err(&done));
    let lines = std::fs::read_to_string(desk.path("lines.jsonl")).unwrap();
    assert_eq!(lines.lines().count(), 3, "{}", err(&done));
    assert!(lines.contains("tw\\\\xff.flac") && lines.contains("tw\\\\xfe.flac"), "{lines}");
    // The second of two such names is missing: only it is scored.
    let shorter: String = lines.lines().filter(|l| !l.contains("xfe")).map(|l| format!("{l}\n")).collect();
    std::fs::write(desk.path("lines.jsonl"), shorter).unwrap();
    let again = run(true);
    assert!(again.status.success() && err(&again).contains("1 take scored, 2 there already"), "{}", err(&again));
}

#[test]
fn two_batches_that_went_on_with_one_file_wrote_over_each_other() {
    let desk = Desk::new();
    let lines = desk.path("lines.jsonl");
    let held = std::fs::File::create(&lines).unwrap();
    held.lock().unwrap();
    let mut batch = takegauge(desk.dir.path());
    batch.arg("batch").arg(audio("late_inside.flac")).arg("--drill").arg(audio("late_inside.toml"));
    let done = batch.arg("--out").arg(&lines).arg("--resume").output().unwrap();
    assert!(done.status.code() == Some(2) && err(&done).contains("another batch is writing"), "{}", err(&done));
    drop(held);
    assert!(batch.output().unwrap().status.success());
}

#[test]
fn two_thousand_jobs_stalled_the_machine() {
    let desk = Desk::new();
    let mut batch = takegauge(desk.dir.path());
    batch.arg("batch").arg(audio("late_inside.flac")).arg("--drill").arg(audio("late_inside.toml"));
    let done = batch.args(["--jobs", "2000"]).output().unwrap();
    assert!(done.status.success() && err(&done).contains("are used"), "{}", err(&done));
}

#[test]
fn orders_to_the_terminal_in_a_note_were_printed_raw() {
    let desk = Desk::new();
    let odd = "a\u{1b}]0;owned\u{7}b\u{1b}[2J";
    let add = ["add", "--player", odd, "--tag", odd, "--note", odd, "--picked", "all", "--drill"];
    let (drill, take) = (audio("late_inside.toml"), audio("late_inside.flac"));
    let add = [&add[..], &[drill.to_str().unwrap(), take.to_str().unwrap()]].concat();
    let added = desk.run(&add);
    assert!(added.status.success(), "{}", err(&added));
    let shown = desk.run(&["show", "1"]);
    let list = desk.run(&["list"]);
    for text in [out(&added), err(&added), out(&shown), out(&list)] {
        assert!(!text.contains('\u{1b}') && !text.contains('\u{7}'), "{text:?}");
    }
    assert!(out(&shown).contains("\\u{1b}]0;owned"), "{}", out(&shown));
    let json: serde_json::Value = serde_json::from_str(&desk.ok(&["list", "--json", "-"])).unwrap();
    assert_eq!(json["takes"][0]["note"], odd);
}

#[test]
fn a_backup_is_restored_and_an_undo_undone() {
    let desk = Desk::new();
    let (drill, take) = (audio("late_inside.toml"), audio("late_inside.flac"));
    let add = ["add", "--player", "Ada", "--picked", "all", "--drill", drill.to_str().unwrap(), take.to_str().unwrap()];
    desk.ok(&add);
    let copy = desk.path("copy.db");
    desk.ok(&["backup", copy.to_str().unwrap()]);
    desk.ok(&["delete", "1", "--yes"]);
    desk.ok(&[&add[..], &["--note", "newer"]].concat());
    assert!(desk.ok(&["undo"]).contains("`journal redo`"));
    assert!(desk.ok(&["redo"]).contains("Done again"));
    assert!(desk.ok(&["show", "2"]).contains("newer"));
    let told = desk.ok(&["restore", copy.to_str().unwrap()]);
    assert!(told.contains("1 take from") && told.contains("before-restore-1"), "{told}");
    assert!(!desk.ok(&["list"]).contains("newer"));
    let none = desk.run(&["restore", desk.path("none.db").to_str().unwrap()]);
    assert_eq!(none.status.code(), Some(2));
}

struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn watching(desk: &Desk, folder: &Path) -> Running {
    let mut command: Command = takegauge(desk.dir.path());
    command
        .arg("watch")
        .arg(folder)
        .arg("--journal-file")
        .arg(desk.journal())
        .args(["--player", "Ada", "--picked", "all"]);
    command.arg("--drill").arg(audio("late_inside.toml")).stdout(std::fs::File::create(desk.path("said")).unwrap());
    Running(command.stderr(std::fs::File::create(desk.path("warned")).unwrap()).spawn().unwrap())
}

fn until(what: &str, path: PathBuf, text: &str) {
    let begun = Instant::now();
    while !std::fs::read_to_string(&path).unwrap_or_default().contains(text) {
        assert!(begun.elapsed() < Duration::from_secs(120), "{what}: {:?}", std::fs::read_to_string(&path));
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn a_watch_told_of_takes_in_a_journal_that_was_gone() {
    let desk = Desk::new();
    let folder = desk.path("bounces");
    std::fs::create_dir(&folder).unwrap();
    let _watch = watching(&desk, &folder);
    std::fs::copy(audio("late_inside.flac"), folder.join("a.flac")).unwrap();
    until("the first take", desk.path("said"), "take 1 of Ada");
    let names =
        ["", "-wal", "-shm"].map(|end| (desk.path(&format!("journal.db{end}")), desk.path(&format!("away.db{end}"))));
    for (here, there) in &names {
        let _ = std::fs::rename(here, there);
    }
    let mut bytes = std::fs::read(audio("late_inside.flac")).unwrap();
    bytes.push(0);
    std::fs::write(folder.join("b.flac"), &bytes).unwrap();
    until("the journal gone", desk.path("warned"), "is gone; takes wait");
    assert!(!folder.join("b.flac.report.json").exists());
    assert!(!std::fs::read_to_string(desk.path("said")).unwrap().contains("take 2"));
    for (here, there) in &names {
        let _ = std::fs::rename(there, here);
    }
    until("the second take", desk.path("said"), "take 2 of Ada");
    assert_eq!(desk.ok(&["list", "--json", "-"]).matches("\"take\":").count(), 2);
}

#[cfg(target_os = "linux")]
#[test]
fn a_watch_kept_the_stump_of_a_flac_that_was_still_being_written() {
    let desk = Desk::new();
    let folder = desk.path("bounces");
    std::fs::create_dir(&folder).unwrap();
    let _watch = watching(&desk, &folder);
    let bytes = std::fs::read(audio("late_inside.flac")).unwrap();
    let mut file = std::fs::File::create(folder.join("a.flac")).unwrap();
    for piece in bytes.chunks(bytes.len() / 2 + 1) {
        file.write_all(piece).unwrap();
        file.flush().unwrap();
        std::thread::sleep(Duration::from_millis(2500));
    }
    drop(file);
    until("the take", desk.path("said"), "take 1 of Ada");
    std::thread::sleep(Duration::from_millis(1500));
    assert_eq!(desk.ok(&["list", "--json", "-"]).matches("\"take\":").count(), 1);
}
