//! One player under several spellings.

use super::formats::old_file_with;
use super::{Place, lines};
use crate::testing::take;
use crate::*;

fn of(player: &str) -> Filter {
    Filter { player: Some(player.to_owned()), ..Filter::default() }
}

/// Adds take `k` under this spelling.
fn add(journal: &mut Journal, k: u32, player: &str) -> Added {
    let (record, report) = take(k);
    journal.add(&TakeRecord { player: player.to_owned(), ..record }, &report).unwrap()
}

#[test]
fn spellings_of_a_journal_of_an_earlier_version_are_joined_and_nothing_is_lost() {
    let place = Place::new();
    let path = place.file("old.db");
    let changes = "INSERT INTO player VALUES (2, ' ada '), (3, 'ADA'), (4, 'Bo');
                   UPDATE take SET player = 2 WHERE id IN (2, 3); UPDATE take SET player = 3 WHERE id = 5;
                   UPDATE take SET player = 4 WHERE id = 6;";
    for format in 1..crate::schema::FORMAT {
        old_file_with(&path, format, 8, changes);
        let journal = Journal::open(&path).unwrap();
        assert_eq!(journal.check().unwrap(), Vec::<String>::new(), "format {format}");
        assert_eq!(journal.players().unwrap(), ["Ada", "Bo"]);
        for spelling in ["Ada", "ada", "  aDA "] {
            let rows = journal.list(&of(spelling)).unwrap();
            assert_eq!(rows.iter().map(|r| r.take).collect::<Vec<_>>(), [1, 2, 3, 4, 5, 7, 8]);
            assert!(rows.iter().all(|r| r.player == "Ada"));
        }
        // Each take is to the letter what it was.
        let spelt: Vec<String> = (1..=8).map(|t| journal.take(t).unwrap().0.player).collect();
        assert_eq!(spelt, ["Ada", " ada ", " ada ", "Ada", "ADA", "Bo", "Ada", "Ada"]);
        // Questions take them for one.
        let plan = journal.plan(&Filter::default(), "2026-02-01".parse().unwrap()).unwrap();
        assert_eq!(plan.lines.iter().map(|l| l.player.as_str()).collect::<Vec<_>>(), ["Ada", "Bo"]);
        assert!(journal.compare(&[1, 2], &[3, 5]).is_ok());
        let trend = journal.trend(&of("ADA"), ("Ada", "Threes"), None, None).unwrap();
        assert_eq!(trend.rows[0].days.iter().map(|d| d.takes).sum::<usize>(), 7);
        // An export brings all of it elsewhere, and a second opening changes nothing.
        let before = lines(&journal);
        let mut other = Journal::open_or_create(&place.file(&format!("other{format}.db"))).unwrap();
        other.import_lines(&mut before.as_bytes(), &mut |_| {}).unwrap();
        assert_eq!((other.players().unwrap(), other.list(&of("ada")).unwrap().len()), (journal.players().unwrap(), 7));
        drop(journal);
        assert_eq!(lines(&Journal::open(&path).unwrap()), before);
        std::fs::remove_file(&path).unwrap();
    }
}

#[test]
fn a_player_is_called_by_the_spelling_that_most_takes_have_and_of_equals_by_the_last() {
    let place = Place::new();
    let mut journal = place.with("j.db", 0);
    add(&mut journal, 0, "ada");
    assert_eq!(journal.players().unwrap(), ["ada"]);
    // Of one each the later recording's counts, in whatever order they were added.
    add(&mut journal, 2, " Ada  ");
    assert_eq!(
        (journal.players().unwrap(), journal.player_name("ADA").unwrap()),
        (vec!["Ada".to_owned()], "Ada".into())
    );
    add(&mut journal, 1, "ada");
    assert_eq!(journal.players().unwrap(), ["ada"]);
    assert_eq!(journal.take(2).unwrap().0.player, "Ada", "blanks around a name are not kept");
    assert_eq!(journal.player_name("  Nobody  else ").unwrap(), "Nobody else");
    // The same recording under another spelling is the same take; under another name it is refused.
    assert_eq!(add(&mut journal, 2, "ADA"), Added::Same(2));
    assert_eq!(journal.take(2).unwrap().0.player, "Ada");
    let (record, report) = take(2);
    let other = journal.add(&TakeRecord { player: "Bo".to_owned(), ..record }, &report);
    assert!(matches!(other, Err(JournalError::OtherPlayer { take: 2, .. })));
    // Accents in one character or two, and letters whose capital is two.
    add(&mut journal, 5, "Zo\u{eb} Strau\u{df}");
    assert_eq!(journal.list(&of("ZOE\u{308} STRAUSS")).unwrap().len(), 1);
    assert_eq!(journal.list(&of("Zoe Strauss")).unwrap().len(), 0);
    assert_eq!(journal.delete(&of("ADA"), "all of Ada").unwrap(), 3);
    journal.compact().unwrap();
    assert_eq!(journal.players().unwrap(), ["Zo\u{eb} Strau\u{df}"]);
}
