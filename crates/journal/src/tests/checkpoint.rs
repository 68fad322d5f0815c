//! A crash while the log is worked in: the file's pages are of two times, and the log still holds all that is newer.

use super::{Place, lines};
use crate::testing::take;
use crate::*;
use std::collections::BTreeMap;

/// The newest content of each page in a log (SQLite's file format, section 4: a header of 32 bytes, then frames of a
/// header of 24 bytes, which begins with the page's number, and the page), and the size of a page.
fn pages(log: &[u8]) -> (BTreeMap<usize, &[u8]>, usize) {
    let number = |at: &[u8]| u32::from_be_bytes(at[..4].try_into().unwrap()) as usize;
    let size = number(&log[8..]);
    (log[32..].chunks_exact(24 + size).map(|frame| (number(frame), &frame[24..])).collect(), size)
}

/// Everything behind the name as it lies while `journal` has it open.
fn lying(place: &Place, name: &str) -> [Vec<u8>; 2] {
    ["", "-wal"].map(|end| std::fs::read(place.file(&format!("{name}{end}"))).unwrap())
}

/// Works `log` in as SQLite does, page after page, and opens what lies there after each one, whole and torn.
fn opens_at_each_page(place: &Place, [file, log]: &[Vec<u8>; 2], expected: &str) -> usize {
    let (pages, size) = pages(log);
    let mut file = file.clone();
    for (n, (page, content)) in pages.iter().enumerate() {
        // Sectors of 512 bytes are written whole. The first page, which holds the header, is torn in two as well.
        for written in if n == 0 { vec![512, size] } else { vec![size] } {
            let at = (page - 1) * size;
            file.resize(file.len().max(at + written), 0);
            file[at..at + written].copy_from_slice(&content[..written]);
            let path = place.file("crashed.db");
            std::fs::write(&path, &file).unwrap();
            std::fs::write(place.file("crashed.db-wal"), log).unwrap();
            let journal = Journal::open(&path).unwrap_or_else(|e| panic!("page {n}, {written} bytes: {e}"));
            assert_eq!(lines(&journal), expected, "page {n}, {written} bytes");
        }
    }
    pages.len()
}

#[test]
fn a_log_half_worked_in_was_told_as_damage() {
    let place = Place::new();
    let mut journal = place.with("j.db", 2);
    // The first: a file of one page that says nothing yet, and all else in the log.
    assert!(opens_at_each_page(&place, &lying(&place, "j.db"), &lines(&journal)) > 5);
    // A later one: the header tells first how long the file is going to be.
    drop(journal);
    journal = Journal::open(&place.file("j.db")).unwrap();
    for k in 2..5 {
        let (record, report) = take(k);
        journal.add(&record, &report).unwrap();
    }
    assert!(opens_at_each_page(&place, &lying(&place, "j.db"), &lines(&journal)) > 5);
}

#[test]
fn a_journal_whose_making_was_broken_off_was_told_as_damage_for_ever() {
    let place = Place::new();
    let path = place.file("j.db");
    // SQLite's file format, section 3: a rollback journal of a file that had no page yet, which is synced before the first
    // page is written; then the page without its first sector.
    let mut rollback = b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7\0\0\0\0nonc\0\0\0\0\0\0\x02\0\0\0\x10\0".to_vec();
    rollback.resize(512, 0);
    std::fs::write(place.file("j.db-journal"), &rollback).unwrap();
    std::fs::write(&path, [vec![0; 512], vec![7; 3584]].concat()).unwrap();
    let mut journal = Journal::open_or_create(&path).unwrap();
    let (record, report) = take(1);
    journal.add(&record, &report).unwrap();
    assert_eq!(journal.check().unwrap(), Vec::<String>::new());
    // Without it, the same file is nobody's journal.
    std::fs::write(place.file("other.db"), [vec![0; 512], vec![7; 3584]].concat()).unwrap();
    assert!(matches!(Journal::open(&place.file("other.db")), Err(JournalError::Damaged { .. })));
}
