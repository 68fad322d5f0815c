//! The journal through its own doors.

use crate::testing::{DRILL, report, take};
use crate::*;
use rusqlite::Connection;
use std::path::{Path, PathBuf};
use takegauge_review::history::WHOLE_TAKE;

struct Place {
    dir: tempfile::TempDir,
}

impl Place {
    fn new() -> Self {
        Self { dir: tempfile::tempdir().unwrap() }
    }

    fn file(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    fn with(&self, name: &str, takes: u32) -> Journal {
        let mut journal = Journal::open_or_create(&self.file(name)).unwrap();
        for k in 0..takes {
            let (record, report) = take(k);
            assert!(matches!(journal.add(&record, &report).unwrap(), Added::New(_)));
        }
        journal
    }
}

fn lines(journal: &Journal) -> String {
    let mut out = Vec::new();
    journal.export_lines(&Filter::default(), &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

#[test]
fn a_take_comes_back_as_it_went_in() {
    let place = Place::new();
    let journal = place.with("deep/down/j.db", 1);
    let (record, report) = take(0);
    let (back, drill, score) = journal.take(1).unwrap();
    assert_eq!(back, TakeRecord { drill: drill.to_toml(), ..record });
    assert_eq!((score, drill.name.as_str()), (report.clone(), "Threes"));
    let points = journal.points(&Filter::default(), WHOLE_TAKE).unwrap();
    assert_eq!(points[0].figures.spread_ms, report.summary.spread_ms.value);
    let change = report.groups.iter().find(|g| g.group == CHANGES).unwrap();
    let points = journal.points(&Filter::default(), CHANGES).unwrap();
    assert_eq!(points[0].figures.spread_ci95_ms, change.spread_ci95_ms);
    assert_eq!((points[0].figures.bias_ms, points[0].figures.n), (change.bias_ms, change.n));
    assert!(matches!(journal.take(2), Err(JournalError::NoTake(2))));
}

#[test]
fn the_same_file_is_one_take_and_an_older_score_can_be_had_back() {
    let place = Place::new();
    let mut journal = place.with("j.db", 2);
    let (record, mut report) = take(0);
    assert_eq!(journal.add(&record, &report).unwrap(), Added::Same(1));
    report.summary.spread_ms.value = Some(9.9);
    assert_eq!(journal.add(&record, &report).unwrap(), Added::Rescored(1));
    assert_eq!(journal.list(&Filter::default()).unwrap().len(), 2);
    assert_eq!(journal.take(1).unwrap().2.summary.spread_ms.value, Some(9.9));
    let undone = journal.undo().unwrap().unwrap();
    assert_eq!((undone.what.as_str(), undone.takes), ("scoring take 1 again", vec![1]));
    assert_eq!(journal.take(1).unwrap().2.summary.spread_ms.value, Some(4.0));
    assert_eq!(journal.undo().unwrap(), None);
    let other = TakeRecord { player: "Bo".to_owned(), ..record };
    assert!(matches!(journal.add(&other, &report), Err(JournalError::OtherPlayer { take: 1, .. })));
}

#[test]
fn a_new_name_keeps_the_history() {
    let place = Place::new();
    let mut journal = place.with("j.db", 1);
    let (mut record, report) = take(1);
    record.drill = DRILL.replace("Threes", "Threes, new name").replace("160", "170");
    journal.add(&record, &report).unwrap();
    let (mut record, report) = take(2);
    record.drill = DRILL.replace("5:3", "5:4");
    journal.add(&record, &report).unwrap();
    let names: Vec<String> = journal.drills().unwrap().into_iter().map(|d| d.name).collect();
    assert_eq!(names, ["Threes", "Threes, new name"]);
    let rows = journal.list(&Filter::default()).unwrap();
    assert_eq!(
        rows.iter().map(|r| r.drill.as_str()).collect::<Vec<_>>(),
        ["Threes, new name", "Threes, new name", "Threes"]
    );
}

#[test]
fn filters_let_through_what_they_say() {
    let place = Place::new();
    let mut journal = place.with("j.db", 12);
    let (mut record, report) = take(50);
    record.player = "Bo".to_owned();
    journal.add(&record, &report).unwrap();
    let n = |f: Filter| journal.list(&f).unwrap().len();
    assert_eq!(n(Filter::default()), 13);
    assert_eq!(n(Filter { player: Some("Bo".to_owned()), ..Filter::default() }), 1);
    assert_eq!(n(Filter { tag: Some("set 1".to_owned()), ..Filter::default() }), 6);
    assert_eq!(n(Filter { tempo_bpm: Some([160.05, 160.15]), ..Filter::default() }), 4);
    let day = |d: &str| Some(d.parse::<Day>().unwrap());
    assert_eq!(n(Filter { since: day("2026-01-03"), until: day("2026-01-05"), ..Filter::default() }), 3);
    assert_eq!(n(Filter { takes: Some(vec![1, 99]), ..Filter::default() }), 1);
    assert_eq!(n(Filter { drills: Some(vec![]), ..Filter::default() }), 0);
    assert_eq!(journal.players().unwrap(), ["Ada", "Bo"]);
}

#[test]
fn export_and_import_lose_nothing() {
    let place = Place::new();
    let journal = place.with("a.db", 7);
    let text = lines(&journal);
    let mut second = Journal::open_or_create(&place.file("b.db")).unwrap();
    let mut told = 0;
    assert_eq!(second.import_lines(&mut text.as_bytes(), &mut |_, _| told += 1).unwrap(), 7);
    assert_eq!((lines(&second), told), (text.clone(), 7));
    assert_eq!(second.import_lines(&mut text.as_bytes(), &mut |a, _| assert!(matches!(a, Added::Same(_)))).unwrap(), 7);
    let cut = &text[..text.len() - 100];
    let mut third = Journal::open_or_create(&place.file("c.db")).unwrap();
    let e = third.import_lines(&mut cut.as_bytes(), &mut |_, _| {}).unwrap_err();
    assert!(matches!(e, JournalError::Line { line: 7, .. }), "{e}");
    assert_eq!(third.list(&Filter::default()).unwrap().len(), 6);
    let wrong = text.replacen("journal-take/1", "journal-take/9", 1);
    assert!(third.import_lines(&mut wrong.as_bytes(), &mut |_, _| {}).is_err());
}

#[test]
fn what_is_deleted_comes_back_until_it_is_compacted() {
    let place = Place::new();
    let mut journal = place.with("j.db", 5);
    let before = lines(&journal);
    assert_eq!(
        journal.delete(&Filter { takes: Some(vec![2, 4]), ..Filter::default() }, "deleting 2 takes").unwrap(),
        2
    );
    assert_eq!(
        journal.delete(&Filter { player: Some("Ada".to_owned()), ..Filter::default() }, "all of Ada").unwrap(),
        3
    );
    assert_eq!((journal.list(&Filter::default()).unwrap().len(), journal.on_shelf().unwrap()), (0, 5));
    assert_eq!(journal.undo().unwrap().unwrap().takes, [1, 3, 5]);
    assert_eq!(journal.undo().unwrap().unwrap().takes, [2, 4]);
    assert_eq!(lines(&journal), before);
    journal.delete(&Filter::default(), "everything").unwrap();
    assert_eq!(journal.compact().unwrap().forgotten, 5);
    assert_eq!((journal.undo().unwrap(), journal.players().unwrap().len()), (None, 0));
    drop(journal);
    let bytes = std::fs::read(place.file("j.db")).unwrap();
    let holds = |text: &str| bytes.windows(text.len()).any(|w| w == text.as_bytes());
    assert!(!holds("black one") && !holds("Ada"), "erased texts are still in the file");
}

/// A file as the given format left it, with `takes` takes in it.
fn old_file(path: &Path, format: i64, takes: u32) {
    let mut db = Connection::open(path).unwrap();
    crate::schema::migrate_to(&mut db, path, format).unwrap();
    let mut packer = crate::pack::Packer::new().unwrap();
    for k in 0..takes {
        let (record, report) = take(k);
        let drill = takegauge_drill::Drill::parse(&record.drill, "t").unwrap();
        let body = packer.pack(&serde_json::to_string(&report).unwrap()).unwrap();
        let step = db.transaction().unwrap();
        if format >= 2 {
            let hash = drill_hash(&drill);
            crate::journal::insert(&step, None, &record, &drill, &hash, &report, (1, &body)).unwrap();
        } else {
            let r = record.recorded_at;
            step.execute_batch(&format!(
                "INSERT OR IGNORE INTO player VALUES (1, 'Ada');
                 INSERT OR IGNORE INTO drill VALUES (1, '{}', 'Threes', '{}');
                 INSERT INTO take VALUES ({}, 1, 1, '{}', '{}', {}, {}, {}, '{}', 'black one', '', '{}', {}, 360, 3, '');
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
                k + 1,
                k + 1,
                record.tags[1],
            ))
            .unwrap();
            step.execute("INSERT INTO report VALUES (?1, 1, ?2)", rusqlite::params![k + 1, body]).unwrap();
        }
        step.commit().unwrap();
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

#[test]
fn killed_while_it_is_brought_up_to_date_it_loses_nothing() {
    let place = Place::new();
    let old = place.file("old.db");
    old_file(&old, 1, 60);
    let expected = lines(&place.with("new.db", 60));
    let mut between = 0;
    for k in 0..20 {
        let path = place.file(&format!("j{k}.db"));
        std::fs::copy(&old, &path).unwrap();
        let mut child = std::process::Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "tests::child_opens_a_journal", "--ignored", "--quiet"])
            .env(CHILD, &path)
            .stdout(std::process::Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(std::time::Duration::from_millis(2 + 3 * k));
        child.kill().unwrap();
        child.wait().unwrap();
        let version = || -> i64 {
            Connection::open(&path).unwrap().pragma_query_value(None, "user_version", |r| r.get(0)).unwrap()
        };
        between += u32::from((1..crate::schema::FORMAT).contains(&version()));
        let journal = Journal::open(&path).unwrap();
        assert_eq!((journal.check().unwrap().len(), lines(&journal) == expected), (0, true), "kill {k}");
    }
    assert!(between > 0, "no kill came before the end");
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
    assert!(matches!(Journal::open(&place.file("none.db")), Err(JournalError::Open { .. })));
    std::fs::write(place.file("a file"), "x").unwrap();
    assert!(matches!(Journal::open_or_create(&place.file("a file/j.db")), Err(JournalError::Open { .. })));
}

#[test]
fn a_full_disk_is_an_error_and_loses_nothing() {
    let place = Place::new();
    let mut journal = place.with("j.db", 3);
    let before = lines(&journal);
    let pages: i64 = journal.db.pragma_query_value(None, "page_count", |r| r.get(0)).unwrap();
    let room = |journal: &Journal, pages: i64| {
        journal.db.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |r| r.get::<_, i64>(0)).unwrap()
    };
    assert_eq!(room(&journal, pages), pages);
    let mut kept = before;
    let e = (9..60)
        .find_map(|k| {
            let (record, report) = take(k);
            let e = journal.add(&record, &report).err();
            if e.is_none() {
                kept = lines(&journal);
            }
            e
        })
        .unwrap();
    assert!(matches!(e, JournalError::Write { .. }) && e.to_string().contains("nothing was changed"), "{e}");
    assert_eq!((lines(&journal), journal.check().unwrap().len()), (kept, 0));
    room(&journal, pages + 1000);
    let (record, report) = take(61);
    assert!(matches!(journal.add(&record, &report).unwrap(), Added::New(_)));
}

#[test]
fn a_backup_is_a_whole_journal_and_overwrites_nothing() {
    let place = Place::new();
    let journal = place.with("j.db", 3);
    journal.backup(&place.file("copy.db")).unwrap();
    assert_eq!(lines(&Journal::open(&place.file("copy.db")).unwrap()), lines(&journal));
    assert!(matches!(journal.backup(&place.file("copy.db")), Err(JournalError::File { .. })));
    assert!(matches!(journal.backup(&place.file("no folder/copy.db")), Err(JournalError::File { .. })));
}

#[test]
fn damage_is_found_and_what_is_left_is_saved() {
    let place = Place::new();
    let takes = 24;
    let mut journal = place.with("whole.db", takes);
    journal.compact().unwrap();
    drop(journal);
    let whole = std::fs::read(place.file("whole.db")).unwrap();
    let path = place.file("j.db");
    let mut saved = Vec::new();
    // A page in so many, from the first behind the head to the last.
    for page in (1..whole.len() / 4096).step_by(5) {
        let mut bytes = whole.clone();
        bytes[page * 4096..(page + 1) * 4096].fill(0x5a);
        std::fs::write(&path, &bytes).unwrap();
        let problems = Journal::open(&path).and_then(|j| j.check());
        let copy = place.file(&format!("saved{page}.db"));
        let Ok(done) = salvage(&path, &copy) else {
            assert!(problems.map_or(true, |p| !p.is_empty()));
            saved.push(0);
            continue;
        };
        if problems.is_ok_and(|p| p.is_empty()) {
            assert_eq!((done.takes, done.lost.len()), (takes as usize, 0), "page {page}");
        }
        assert!(done.takes == takes as usize || !done.lost.is_empty(), "page {page}: {done:?}");
        let new = Journal::open(&copy).unwrap();
        assert_eq!((new.list(&Filter::default()).unwrap().len(), new.check().unwrap().len()), (done.takes, 0));
        assert_eq!(std::fs::read(&path).unwrap(), bytes, "the damaged file was touched");
        saved.push(done.takes);
    }
    saved.sort_unstable();
    // Most pages hold one or two reports.
    assert!(saved[saved.len() / 2] + 2 >= takes as usize, "{saved:?}");
    assert!(matches!(salvage(&path, &place.file("whole.db")), Err(JournalError::File { .. })));
}

#[test]
fn no_byte_of_a_file_can_make_it_fall_over() {
    let place = Place::new();
    let mut journal = place.with("j.db", 2);
    journal.compact().unwrap();
    drop(journal);
    let whole = std::fs::read(place.file("j.db")).unwrap();
    for step in 0..120 {
        let mut bytes = whole.clone();
        let at = (step * 7919) % bytes.len();
        bytes[at] ^= 0xff;
        if step % 3 == 0 {
            bytes.truncate(at);
        }
        let path = place.file(&format!("bad{step}.db"));
        std::fs::write(&path, &bytes).unwrap();
        // Whatever they say, they return.
        let _ = Journal::open(&path).and_then(|j| j.check());
        let _ = salvage(&path, &place.file(&format!("saved{step}.db")));
    }
}

#[test]
fn two_writers_wait_for_each_other() {
    let place = Place::new();
    drop(place.with("j.db", 0));
    let write = |from: u32| {
        let path = place.file("j.db");
        move || {
            let mut journal = Journal::open(&path).unwrap();
            for k in from..from + 30 {
                let (record, report) = take(k);
                journal.add(&record, &report).unwrap();
            }
        }
    };
    let threads = [std::thread::spawn(write(0)), std::thread::spawn(write(1000))];
    for t in threads {
        t.join().unwrap();
    }
    let journal = Journal::open(&place.file("j.db")).unwrap();
    assert_eq!((journal.list(&Filter::default()).unwrap().len(), journal.check().unwrap().len()), (60, 0));
}

#[test]
fn records_that_cannot_be_kept_are_refused() {
    let place = Place::new();
    let mut journal = place.with("j.db", 0);
    let (record, report) = (take(0).0, report());
    for bad in [
        TakeRecord { player: " ".to_owned(), ..record.clone() },
        TakeRecord { audio_sha256: "abc".to_owned(), ..record.clone() },
        TakeRecord { drill: "no drill".to_owned(), ..record.clone() },
    ] {
        assert!(matches!(journal.add(&bad, &report), Err(JournalError::Record(_))));
    }
    assert!(journal.list(&Filter::default()).unwrap().is_empty());
}

#[cfg(feature = "parquet")]
#[test]
fn a_parquet_file_has_a_row_a_group() {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    let place = Place::new();
    let rows = place.with("j.db", 3).figure_rows(&Filter::default()).unwrap();
    let path = place.file("j.parquet");
    takes_parquet(&rows, &mut std::fs::File::create(&path).unwrap()).unwrap();
    let reader = SerializedFileReader::new(std::fs::File::open(&path).unwrap()).unwrap();
    assert_eq!(reader.metadata().file_metadata().num_rows() as usize, rows.len());
    assert_eq!(reader.metadata().file_metadata().schema_descr().num_columns(), 34);
}

#[test]
fn a_note_and_tags_are_changed_and_the_former_ones_can_be_had_back() {
    let place = Place::new();
    let mut journal = place.with("j.db", 1);
    let before = lines(&journal);
    journal.annotate(1, "new strings", &["warm ".to_owned(), String::new(), "evening".to_owned()]).unwrap();
    let (record, ..) = journal.take(1).unwrap();
    assert_eq!((record.note.as_str(), record.tags), ("new strings", vec!["evening".to_owned(), "warm".to_owned()]));
    assert_eq!(journal.undo().unwrap().unwrap().takes, [1]);
    assert_eq!(lines(&journal), before);
    assert!(matches!(journal.annotate(9, "", &[]), Err(JournalError::NoTake(9))));
}
