//! The journal through its own doors.

mod care;
mod checkpoint;
mod formats;
mod mending;
mod places;
mod spellings;
mod takes;
mod tasks;

use crate::testing::take;
use crate::*;
use std::path::PathBuf;

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
