//! The file behind the name: moved, replaced, another's, on a place that cannot be written, changed by nobody.

use super::{Place, lines};
use crate::testing::take;
use crate::*;
use rusqlite::Connection;
use std::path::Path;

fn add(journal: &mut Journal, k: u32) -> Result<Added> {
    let (record, report) = take(k);
    journal.add(&record, &report)
}

#[test]
fn takes_were_told_as_kept_in_a_journal_that_was_gone() {
    let place = Place::new();
    let path = place.file("j.db");
    let mut journal = place.with("j.db", 1);
    std::fs::rename(&path, place.file("elsewhere.db")).unwrap();
    assert!(matches!(add(&mut journal, 5), Err(JournalError::Moved { .. })));
    // Another one under its name is not it either.
    drop(place.with("other.db", 2));
    std::fs::copy(place.file("other.db"), &path).unwrap();
    assert!(matches!(add(&mut journal, 5), Err(JournalError::Moved { .. })));
    assert!(matches!(journal.annotate(1, "word", &[]), Err(JournalError::Moved { .. })));
    assert!(matches!(journal.delete(&Filter::default(), "all"), Err(JournalError::Moved { .. })));
    assert!(matches!(journal.undo(), Err(JournalError::Moved { .. })));
    assert!(matches!(journal.compact(), Err(JournalError::Moved { .. })));
    std::fs::rename(place.file("elsewhere.db"), &path).unwrap();
    assert!(matches!(add(&mut journal, 5).unwrap(), Added::New(2)));
    // The log holds the newest takes: without it they are gone as well.
    std::fs::remove_file(place.file("j.db-wal")).unwrap();
    assert!(matches!(add(&mut journal, 6), Err(JournalError::Moved { .. })));
    std::fs::remove_file(&path).unwrap();
    assert!(matches!(add(&mut journal, 6), Err(JournalError::Moved { .. })));
}

/// The files of a journal as a crash leaves them: the newest takes in the log alone.
fn crashed(place: &Place, name: &str) -> (std::path::PathBuf, String) {
    let mut journal = place.with("running.db", 3);
    journal.backup(&place.file("copy.db")).unwrap();
    for k in 3..40 {
        add(&mut journal, k).unwrap();
    }
    journal.delete(&Filter { takes: Some((5..30).collect()), ..Filter::default() }, "some").unwrap();
    journal.compact().unwrap();
    for k in 50..60 {
        add(&mut journal, k).unwrap();
    }
    let path = place.file(name);
    for end in ["", "-wal"] {
        std::fs::copy(place.file(&format!("running.db{end}")), place.file(&format!("{name}{end}"))).unwrap();
    }
    (path, lines(&journal))
}

#[test]
fn a_copy_laid_over_a_crashed_journal_was_mixed_with_its_log() {
    let place = Place::new();
    let (path, newest) = crashed(&place, "j.db");
    // Left alone, the log is worked in.
    assert_eq!(lines(&Journal::open(&crashed_again(&place)).unwrap()), newest);
    std::fs::copy(place.file("copy.db"), &path).unwrap();
    let before = (std::fs::read(&path).unwrap(), std::fs::read(place.file("j.db-wal")).unwrap());
    assert!(matches!(Journal::open(&path), Err(JournalError::StrayLog { .. })));
    assert_eq!((std::fs::read(&path).unwrap(), std::fs::read(place.file("j.db-wal")).unwrap()), before);
    // What can be saved of both is the copy's takes, whole.
    let saved = salvage(&path, &place.file("saved.db")).unwrap();
    assert!(saved.takes >= 3, "{saved:?}");
    let done = restore(&place.file("copy.db"), &path).unwrap();
    assert_eq!(done.takes, 3);
    let mut journal = Journal::open(&path).unwrap();
    assert_eq!((journal.list(&Filter::default()).unwrap().len(), journal.check().unwrap()), (3, Vec::<String>::new()));
    assert!(matches!(add(&mut journal, 90).unwrap(), Added::New(_)));
    // What was there lies beside it, the log with it.
    let aside = done.before.unwrap();
    assert_eq!(std::fs::read(&aside).unwrap(), before.0);
    assert_eq!(std::fs::read(crate::file::companion(&aside, "-wal")).unwrap(), before.1);
}

fn crashed_again(place: &Place) -> std::path::PathBuf {
    for end in ["", "-wal"] {
        std::fs::copy(place.file(&format!("j.db{end}")), place.file(&format!("again.db{end}"))).unwrap();
    }
    place.file("again.db")
}

#[test]
fn a_crashed_journal_restored_by_its_command_is_the_copy_and_keeps_the_newest_beside_it() {
    let place = Place::new();
    let (path, newest) = crashed(&place, "j.db");
    let done = restore(&place.file("copy.db"), &path).unwrap();
    assert_eq!(Journal::open(&path).unwrap().list(&Filter::default()).unwrap().len(), 3);
    assert_eq!(lines(&Journal::open(&done.before.unwrap()).unwrap()), newest);
    // Once more: another name.
    let again = restore(&place.file("copy.db"), &path).unwrap().before.unwrap();
    assert!(again.to_string_lossy().ends_with(".before-restore-2"), "{again:?}");
    // Where there is no journal yet.
    let fresh = restore(&place.file("copy.db"), &place.file("deep/new.db")).unwrap();
    assert_eq!((fresh.takes, fresh.before), (3, None));
}

#[test]
fn a_restore_that_cannot_be_done_changes_nothing() {
    let place = Place::new();
    let mut journal = place.with("j.db", 2);
    journal.backup(&place.file("copy.db")).unwrap();
    add(&mut journal, 7).unwrap();
    let before = lines(&journal);
    let path = place.file("j.db");
    assert!(matches!(restore(&place.file("copy.db"), &path), Err(JournalError::Busy { .. })));
    drop(journal);
    let mut bytes = std::fs::read(place.file("copy.db")).unwrap();
    let half = bytes.len() / 2;
    bytes[half..].fill(7);
    std::fs::write(place.file("bad.db"), &bytes).unwrap();
    for bad in ["bad.db", "none.db"] {
        assert!(restore(&place.file(bad), &path).is_err(), "{bad}");
    }
    std::fs::write(place.file("text.db"), "words ".repeat(1000)).unwrap();
    assert!(matches!(restore(&place.file("text.db"), &path), Err(JournalError::Damaged { .. })));
    assert_eq!(lines(&Journal::open(&path).unwrap()), before);
    let left: Vec<_> = std::fs::read_dir(place.dir.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert!(left.iter().all(|n| !n.to_string_lossy().contains("part")), "{left:?}");
}

#[test]
fn undo_of_a_deletion_destroyed_the_note_of_the_take_added_again() {
    let place = Place::new();
    let mut journal = place.with("j.db", 1);
    let before = lines(&journal);
    journal.delete(&Filter::default(), "deleting 1 take").unwrap();
    let (mut record, report) = take(0);
    (record.note, record.tags) = ("new strings".to_owned(), vec!["morning".to_owned()]);
    journal.add(&record, &report).unwrap();
    let newer = lines(&journal);
    assert!(journal.undo().unwrap().unwrap().replaced);
    assert_eq!(lines(&journal), before);
    assert_eq!(journal.redo().unwrap().unwrap().what, "deleting 1 take");
    assert_eq!(lines(&journal), newer);
    journal.undo().unwrap().unwrap();
    assert_eq!((lines(&journal), journal.undo().unwrap()), (before, None));
    // The same for a note and for a new score.
    journal.annotate(1, "a long note", &[]).unwrap();
    journal.undo().unwrap().unwrap();
    journal.redo().unwrap().unwrap();
    assert_eq!(journal.take(1).unwrap().0.note, "a long note");
    assert_eq!(journal.check().unwrap(), Vec::<String>::new());
}

#[test]
fn changed_figures_passed_the_check() {
    let place = Place::new();
    let journal = place.with("j.db", 4);
    let path = place.file("j.db");
    drop(journal);
    let change = |sql: &str| {
        let file = place.file("changed.db");
        let _ = std::fs::remove_file(&file);
        std::fs::copy(&path, &file).unwrap();
        let db = Connection::open(&file).unwrap();
        db.execute_batch(sql).unwrap();
        drop(db);
        Journal::open(&file).unwrap().check().unwrap()
    };
    assert_eq!(change(""), Vec::<String>::new());
    for (sql, said) in [
        ("UPDATE take SET errors = errors + 1 WHERE id = 2", "figures of take 2"),
        ("UPDATE take SET note = 'x' WHERE id = 3", "take 3 is not as it was stored"),
        ("UPDATE take SET recorded_ms = recorded_ms + 1 WHERE id = 1", "take 1 is not as it was stored"),
        ("DELETE FROM tag WHERE take = 4 AND name = 'evening'", "take 4 is not as it was stored"),
        ("UPDATE player SET name = 'Eve'", "take 1 is not as it was stored"),
        ("DELETE FROM seal WHERE take = 2", "take 2 has no checksum"),
        ("DELETE FROM figure WHERE take = 2", "figures of take 2"),
        ("UPDATE report SET body = (SELECT body FROM report WHERE take = 1) WHERE take = 2", "take 2 is not as it"),
    ] {
        let found = change(sql);
        assert!(found.iter().any(|line| line.contains(said)), "{sql}: {found:?}");
    }
}

/// One bit at a time, all over the file: whatever changes what the journal says is named.
#[test]
fn a_bit_that_tipped_over_was_not_found() {
    let place = Place::new();
    let mut journal = place.with("j.db", 6);
    journal.delete(&Filter { takes: Some(vec![6]), ..Filter::default() }, "one").unwrap();
    let (before, figures) = (lines(&journal), journal.figure_rows(&Filter::default()).unwrap());
    drop(journal);
    let whole = std::fs::read(place.file("j.db")).unwrap();
    let (mut state, mut mattered) = (9u64, 0);
    for k in 0..150 {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mut bytes = whole.clone();
        bytes[(state >> 33) as usize % whole.len()] ^= 1 << (k % 8);
        let file = place.file("tipped.db");
        for end in ["-wal", "-shm"] {
            let _ = std::fs::remove_file(crate::file::companion(&file, end));
        }
        std::fs::write(&file, &bytes).unwrap();
        let Ok(journal) = Journal::open(&file) else {
            mattered += 1;
            continue;
        };
        let silent = journal.check().is_ok_and(|problems| problems.is_empty());
        let mut out = Vec::new();
        let exported = journal.export_lines(&Filter::default(), &mut out).is_ok() && out == before.as_bytes();
        let rows = journal.figure_rows(&Filter::default());
        let same = exported && rows.as_ref().is_ok_and(|rows| *rows == figures);
        if !same && silent {
            let row = rows.map(|rows| rows.into_iter().zip(&figures).find(|(now, then)| now != *then));
            panic!("damage {k} changed what the journal says and was not found: exports alike {exported}, {row:?}");
        }
        mattered += u32::from(!same);
    }
    assert!(mattered > 20, "{mattered}");
}

#[test]
fn a_changed_name_of_a_drill_or_key_of_a_player_was_not_found() {
    let place = Place::new();
    let journal = place.with("j.db", 2);
    for (sql, said) in [
        ("UPDATE player SET key = 'bo'", "the key of player \"Ada\" is not that of the name"),
        ("UPDATE drill SET name = 'Fours'", "drill \"Fours\" is not as it was stored"),
        ("UPDATE drill SET hash = 'ab' || substr(hash, 3)", "drill \"Threes\" is not as it was stored"),
    ] {
        journal.db.execute_batch(&format!("BEGIN; {sql};")).unwrap();
        let found = journal.check().unwrap();
        assert!(found.iter().any(|line| line == said), "{sql}: {found:?}");
        journal.db.execute_batch("ROLLBACK").unwrap();
    }
    assert_eq!(journal.check().unwrap(), Vec::<String>::new());
}

#[test]
fn another_programs_file_was_switched_to_a_log_of_its_own() {
    let place = Place::new();
    let path = place.file("pots.db");
    Connection::open(&path).unwrap().execute_batch("CREATE TABLE pots (id); INSERT INTO pots VALUES (1)").unwrap();
    let named = place.file("named.db");
    Connection::open(&named)
        .unwrap()
        .execute_batch("CREATE TABLE pots (id); PRAGMA application_id = 77; PRAGMA journal_mode = wal;")
        .unwrap();
    for path in [path, named] {
        let before = std::fs::read(&path).unwrap();
        let files = std::fs::read_dir(place.dir.path()).unwrap().count();
        assert!(matches!(Journal::open(&path), Err(JournalError::Damaged { .. })));
        assert!(matches!(Journal::open_or_create(&path), Err(JournalError::Damaged { .. })));
        assert!(matches!(Journal::open_read_only(&path), Err(JournalError::Damaged { .. })));
        assert!(std::fs::read(&path).unwrap() == before, "{path:?} was changed");
        assert_eq!(std::fs::read_dir(place.dir.path()).unwrap().count(), files);
    }
}

#[test]
fn a_journal_that_cannot_be_written_could_not_be_read() {
    let place = Place::new();
    let journal = place.with("odd name % ?.db", 3);
    let (before, path) = (lines(&journal), place.file("odd name % ?.db"));
    // Its log still holds everything.
    assert!(matches!(Journal::open_read_only(&path), Err(JournalError::Open { .. })));
    drop(journal);
    let files = || std::fs::read_dir(place.dir.path()).unwrap().count();
    let (bytes, n) = (std::fs::read(&path).unwrap(), files());
    let mut journal = Journal::open_read_only(&path).unwrap();
    assert_eq!((lines(&journal), journal.check().unwrap()), (before, Vec::<String>::new()));
    assert!(matches!(add(&mut journal, 9), Err(JournalError::Open { .. })));
    assert!(matches!(journal.undo(), Err(JournalError::Open { .. })));
    assert!(matches!(journal.compact(), Err(JournalError::Open { .. })));
    assert_eq!((std::fs::read(&path).unwrap() == bytes, files()), (true, n));
    assert!(matches!(Journal::open_read_only(Path::new("none.db")), Err(JournalError::Missing { .. })));
}

#[test]
fn one_unreadable_take_stopped_the_whole_export() {
    let place = Place::new();
    drop(place.with("j.db", 4));
    let db = Connection::open(place.file("j.db")).unwrap();
    db.execute("UPDATE report SET body = x'00' WHERE take = 2", []).unwrap();
    drop(db);
    let journal = Journal::open(&place.file("j.db")).unwrap();
    let mut out = Vec::new();
    let done = journal.export_lines(&Filter::default(), &mut out).unwrap();
    assert_eq!((done.takes, done.unreadable.len(), out.iter().filter(|b| **b == b'\n').count()), (3, 1, 3));
    assert!(done.unreadable[0].starts_with("take 2:"), "{done:?}");
}

#[test]
fn a_line_without_end_was_read_whole() {
    let place = Place::new();
    let mut journal = place.with("j.db", 0);
    let mut endless = std::io::BufReader::new(std::io::repeat(b' '));
    let e = journal.import_lines(&mut endless, &mut |_| {}).unwrap_err();
    assert!(matches!(e, JournalError::Line { line: 1, .. }), "{e}");
}
