//! Rows of many takes: the same columns whatever a take came to, and nothing lost where tables are put together.

#![allow(clippy::unwrap_used, clippy::panic)] // tests

mod support;

use support::{THREE_PER_STRING, drill, scored};
use takegauge_pluck::{Happens, Player};
use takegauge_review::ScoreReport;
use takegauge_review::many::{TakeOutcome, Unscored};
use takegauge_review::sheet::{Sheet, Values};

fn report() -> ScoreReport {
    scored(&drill(THREE_PER_STRING, 140.0, 4), &Player { missed: Happens::At(vec![9]), ..Player::default() })
}

fn column<'a>(sheet: &'a Sheet, name: &str) -> &'a Values {
    &sheet.columns.iter().find(|c| c.name == name).unwrap().values
}

#[test]
fn every_take_is_one_row_of_the_same_columns() {
    let scored = report();
    let [played, broken] = [Ok(&scored), Err((Unscored::Unreadable, "x.wav: it is empty"))]
        .map(|score| TakeOutcome { path: "x.wav", score });
    let (mut takes, mut notes) = (played.take_sheet(), played.note_sheet());
    assert_eq!((takes.rows(), notes.rows()), (1, scored.notes.len()));
    takes.append(broken.take_sheet()).unwrap();
    notes.append(broken.note_sheet()).unwrap();
    assert_eq!((takes.rows(), notes.rows()), (2, scored.notes.len()));
    assert_eq!([0, 1].map(|row| column(&takes, "status").text(row)), ["scored", "unreadable"]);
    assert_eq!([0, 1].map(|row| column(&takes, "reason").text(row)), ["", "x.wav: it is empty"]);
    assert_eq!([0, 1].map(|row| column(&takes, "missed").text(row)), ["1", ""]);
    assert_eq!(column(&takes, "played").text(0), scored.summary.played.to_string());
    // What every row must have, every row has.
    for c in takes.columns.iter().chain(&notes.columns).filter(|c| !c.nullable) {
        assert!((0..c.values.len()).all(|row| !c.values.text(row).is_empty()), "{}", c.name);
    }
    assert!(takes.columns.iter().all(|c| c.values.len() == 2), "no column is short");
}

#[test]
fn rows_of_other_columns_are_refused_and_nothing_is_added() {
    let broken = TakeOutcome { path: "x.wav", score: Err((Unscored::NoDrill, "which?")) };
    let mut takes = broken.take_sheet();
    let before = takes.clone();
    let refused = takes.append(broken.note_sheet()).unwrap_err();
    assert!(refused.rows.contains(&"deviation_ms".to_owned()) && refused.to_string().contains("deviation_ms"));
    let other_kind = Sheet::default().with("path", &[1.5], |v| *v);
    assert!(Sheet::default().with("path", &["a"], |v| (*v).to_owned()).append(other_kind).is_err());
    assert_eq!(takes, before);
}
