//! Files of earlier formats, of later ones, and of other programs.

use super::{Place, lines};
use crate::testing::take;
use crate::*;
use rusqlite::Connection;
use std::path::Path;

/// A file as the given format left it, with `takes` takes in it.
fn old_file(path: &Path, format: i64, takes: u32) {
    old_file_with(path, format, takes, "");
}

/// The same, in which the first format was changed by this SQL.
pub(super) fn old_file_with(path: &Path, format: i64, takes: u32, changes: &str) {
    let mut db = Connection::open(path).unwrap();
    crate::schema::migrate_to(&mut db, path, format.min(1)).unwrap();
    let mut packer = crate::pack::Packer::new().unwrap();
    for k in 0..takes {
        let (record, report) = take(k);
        let drill = takegauge_drill::Drill::parse(&record.drill, "t").unwrap();
        let body = packer.pack(&serde_json::to_string(&report).unwrap()).unwrap();
        let step = db.transaction().unwrap();
        let r = record.recorded_at;
        step.execute_batch(&format!(
            "INSERT OR IGNORE INTO player VALUES (1, 'Ada');
             INSERT OR IGNORE INTO drill VALUES (1, '{}', 'Threes', '{}');
             INSERT INTO take VALUES ({}, 1, 1, '{}', '{}', {}, {}, {}, '{}', 'black one', '', '{}', {}, {}, {}, '{}');
             INSERT INTO tag VALUES ({}, 'evening'), ({}, '{}');",
            drill_hash(&drill),
            drill.to_toml().replace('\'', "''"),
            k + 1,
            record.audio_sha256,
            record.path,
            r.milliseconds(),
            r.offset_s(),
            r.day().0,
            record.picked.text(),
            record.note,
            (report.timebase.tempo_bpm * 1000.0).round(),
            report.summary.notes_reached,
            report.summary.missed + report.summary.wrong_pitch + report.summary.extra,
            report.findings.first().map_or("", |f| f.text.as_str()).replace('\'', "''"),
            k + 1,
            k + 1,
            record.tags[1],
        ))
        .unwrap();
        step.execute("INSERT INTO report VALUES (?1, 1, ?2)", rusqlite::params![k + 1, body]).unwrap();
        step.commit().unwrap();
    }
    db.execute_batch(changes).unwrap();
    crate::schema::migrate_to(&mut db, path, format).unwrap();
    if (2..=4).contains(&format) {
        // Figures stood in columns of their own then.
        db.execute_batch(
            "CREATE TABLE figure (take INTEGER NOT NULL, note_group INTEGER NOT NULL, n INTEGER NOT NULL, bias_us INTEGER,
               PRIMARY KEY (take, note_group)) WITHOUT ROWID;
             INSERT INTO note_group VALUES (1, 'whole take', 'all notes of the take');
             INSERT INTO figure VALUES (1, 1, 7, 4000);",
        )
        .unwrap();
    }
}

#[test]
fn files_of_every_earlier_format_are_brought_up_to_date() {
    let place = Place::new();
    let expected = place.with("new.db", 4);
    for format in 0..crate::schema::FORMAT {
        let path = place.file(&format!("v{format}.db"));
        old_file(&path, format, if format == 0 { 0 } else { 4 });
        let journal = Journal::open(&path).unwrap();
        assert_eq!(journal.check().unwrap(), Vec::<String>::new());
        if format > 0 {
            assert_eq!(lines(&journal), lines(&expected), "format {format}");
            let of = |j: &Journal| j.figure_rows(&Filter::default()).unwrap();
            let figures = |j: &Journal| of(j).into_iter().map(|r| (r.group, r.figures)).collect::<Vec<_>>();
            assert_eq!(figures(&journal), figures(&expected), "format {format}");
        }
    }
}

/// Where the test below tells its child the journal.
const CHILD: &str = "TAKEGAUGE_TEST_JOURNAL";

#[test]
#[ignore = "the child process of the test below"]
fn child_opens_a_journal() {
    if let Some(path) = std::env::var_os(CHILD) {
        Journal::open(Path::new(&path)).unwrap();
    }
}

fn child(path: &Path) -> std::process::Child {
    std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "tests::formats::child_opens_a_journal", "--ignored", "--quiet"])
        .env(CHILD, path)
        .stdout(std::process::Stdio::null())
        .spawn()
        .unwrap()
}

/// TAKEGAUGE_KILLS says how often, as in crates/cli/tests/kills.rs.
#[test]
fn killed_while_it_is_brought_up_to_date_it_loses_nothing() {
    let place = Place::new();
    let old = place.file("old.db");
    old_file(&old, 1, 60);
    let expected = lines(&place.with("new.db", 60));
    let copy = |name: String| {
        std::fs::copy(&old, place.file(&name)).unwrap();
        place.file(&name)
    };
    let begun = std::time::Instant::now();
    assert!(child(&copy("whole.db".to_owned())).wait().unwrap().success());
    let takes = begun.elapsed();
    let kills: u32 = std::env::var("TAKEGAUGE_KILLS").map_or(20, |n| n.parse().unwrap());
    let (mut early, mut state) = (0, 4u64);
    for k in 0..kills {
        let path = copy(format!("j{k}.db"));
        let mut child = child(&path);
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        std::thread::sleep(takes.mul_f64((state >> 40) as f64 / f64::from(1 << 24)));
        child.kill().unwrap();
        child.wait().unwrap();
        let db = Connection::open(&path).unwrap();
        let version: i64 = db.pragma_query_value(None, "user_version", |r| r.get(0)).unwrap();
        early += u32::from(version < crate::schema::FORMAT);
        drop(db);
        let journal = Journal::open(&path).unwrap();
        assert_eq!((journal.check().unwrap().len(), lines(&journal) == expected), (0, true), "kill {k}");
    }
    assert!(early > 0, "no kill came before the end");
    println!("migration: killed {kills} times, {early} times before the end; 60 takes held each time");
}

#[test]
fn a_later_format_and_another_programs_file_are_left_alone() {
    let place = Place::new();
    drop(place.with("later.db", 1));
    Connection::open(place.file("later.db")).unwrap().pragma_update(None, "user_version", 99).unwrap();
    assert!(matches!(Journal::open(&place.file("later.db")), Err(JournalError::TooNew { found: 99, .. })));
    Connection::open(place.file("other.db")).unwrap().execute_batch("CREATE TABLE pots (id)").unwrap();
    assert!(matches!(Journal::open(&place.file("other.db")), Err(JournalError::Damaged { .. })));
    std::fs::write(place.file("text.db"), "no database at all, only words ".repeat(100)).unwrap();
    assert!(matches!(Journal::open(&place.file("text.db")), Err(JournalError::Damaged { .. })));
    assert!(matches!(Journal::open(&place.file("none.db")), Err(JournalError::Missing { .. })));
    std::fs::write(place.file("a file"), "x").unwrap();
    assert!(matches!(Journal::open_or_create(&place.file("a file/j.db")), Err(JournalError::Open { .. })));
}
