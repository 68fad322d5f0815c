//! Full disks, damage, copies, and two writers at once.

use super::{Place, lines};
use crate::testing::take;
use crate::*;

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
    assert!(matches!(e, JournalError::Write { .. }) && e.to_string().contains("what it holds is whole"), "{e}");
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
