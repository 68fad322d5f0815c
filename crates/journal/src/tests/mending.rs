//! What stands beside takes, mended and had back.

use super::{Place, lines};
use crate::*;
use proptest::prelude::*;

#[test]
fn player_date_tags_and_note_are_mended_and_had_back_at_once() {
    let place = Place::new();
    let mut journal = place.with("j.db", 4);
    let before = lines(&journal);
    let at = "2026-05-01T10:00:00+01:00".parse().unwrap();
    let change = |record: &mut TakeRecord| {
        record.player = " Bo ".to_owned();
        record.recorded_at = at;
        record.tags.push(" lesson".to_owned());
        record.note = "new".to_owned();
        // What is the take itself stays.
        record.path = "elsewhere.wav".to_owned();
        record.audio_sha256 = "0".repeat(64);
    };
    let mended = journal.mend(&[3, 1, 3], change).unwrap();
    assert_eq!((mended.takes, mended.what), (vec![1, 3], vec!["date", "note", "player", "tags"]));
    assert_eq!(journal.players().unwrap(), ["Ada", "Bo"]);
    let row = &journal.list(&Filter { player: Some("bo".to_owned()), ..Filter::default() }).unwrap()[1];
    assert_eq!((row.take, row.day.to_string().as_str(), row.note.as_str()), (3, "2026-05-01", "new"));
    assert_eq!(row.tags, ["evening", "lesson", "set 0"]);
    let record = journal.take(3).unwrap().0;
    assert_eq!((record.path.as_str(), record.recorded_at), ("takes/take 2.wav", at));
    // The figures follow the take.
    let since = Filter { since: Some("2026-05-01".parse().unwrap()), ..Filter::default() };
    assert_eq!(journal.figure_rows(&since).unwrap().iter().map(|r| r.take.take).max(), Some(3));
    assert_eq!(journal.points(&since, takegauge_review::GroupKey::WholeTake).unwrap().len(), 2);
    assert_eq!(journal.check().unwrap(), Vec::<String>::new());
    // The same once more is no change, and nothing to take back.
    assert_eq!(journal.mend(&[1, 3], change).unwrap().takes, Vec::<i64>::new());
    let after = lines(&journal);
    assert_eq!(journal.last_change().unwrap().as_deref(), Some("mending 2 takes (date, note, player, tags)"));
    assert_eq!(journal.undo().unwrap().unwrap().takes, [1, 3]);
    assert_eq!((lines(&journal), journal.last_change().unwrap()), (before.clone(), None));
    assert_eq!(journal.redo().unwrap().unwrap().takes, [1, 3]);
    assert_eq!(lines(&journal), after);
    assert_eq!((journal.undo().unwrap().unwrap().takes, lines(&journal) == before), (vec![1, 3], true));
}

#[test]
fn nothing_is_mended_where_one_take_cannot_be() {
    let place = Place::new();
    let mut journal = place.with("j.db", 2);
    let before = lines(&journal);
    assert!(matches!(journal.mend(&[1, 9], |r| r.note.clear()), Err(JournalError::NoTake(9))));
    assert!(matches!(journal.mend(&[1, 2], |r| r.player = " \t".to_owned()), Err(JournalError::Record(_))));
    assert_eq!((lines(&journal), journal.undo().unwrap()), (before, None));
}

#[derive(Debug, Clone)]
enum Step {
    Mend(u8, String),
    Note(u8, String),
    Day(u8, u8),
    Delete(u8),
    Task(String),
    Tick(u8, bool),
    DeleteTask(u8),
    Undo,
    Redo,
}

fn step() -> impl Strategy<Value = Step> {
    let name = prop_oneof![Just("Ada"), Just("ada"), Just("Bo"), Just(" Zo\u{eb}")].prop_map(str::to_owned);
    prop_oneof![
        (1..5u8, name.clone()).prop_map(|(take, name)| Step::Mend(take, name)),
        (1..5u8, "[a-z]{0,3}").prop_map(|(take, note)| Step::Note(take, note)),
        (1..5u8, 1..28u8).prop_map(|(take, day)| Step::Day(take, day)),
        (1..5u8).prop_map(Step::Delete),
        name.prop_map(Step::Task),
        (1..4u8, any::<bool>()).prop_map(|(task, done)| Step::Tick(task, done)),
        (1..4u8).prop_map(Step::DeleteTask),
        Just(Step::Undo),
        Just(Step::Redo),
    ]
}

/// Does a step; where it names what is not there, nothing happens.
fn take_step(journal: &mut Journal, step: &Step) {
    let take = |n: u8| [i64::from(n)];
    match step {
        Step::Mend(n, name) => drop(journal.mend(&take(*n), |r| r.player.clone_from(name))),
        Step::Note(n, note) => drop(journal.annotate(i64::from(*n), note, &[])),
        Step::Day(n, day) => {
            drop(
                journal
                    .mend(&take(*n), |r| r.recorded_at = r.recorded_at.mended(&format!("2026-06-{day:02}")).unwrap()),
            );
        }
        Step::Delete(n) => {
            let which = Filter { takes: Some(vec![i64::from(*n)]), ..Filter::default() };
            journal.delete(&which, "deleting").unwrap();
        }
        Step::Task(player) => {
            let task = TaskRecord {
                player: player.clone(),
                what: "slowly".to_owned(),
                drill: None,
                tempo_bpm: None,
                set: "2026-03-01".parse().unwrap(),
                due: None,
                done: None,
            };
            journal.set_task(&task).unwrap();
        }
        Step::Tick(n, done) => {
            drop(journal.tick_tasks(&take(*n), done.then(|| "2026-03-02".parse().unwrap())));
        }
        Step::DeleteTask(n) => drop(journal.delete_tasks(&take(*n))),
        Step::Undo => drop(journal.undo().unwrap()),
        Step::Redo => drop(journal.redo().unwrap()),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Whatever is done, the file is sound, taking all of it back gives the takes as they were, and doing it again what
    /// was there.
    #[test]
    fn everything_can_be_taken_back(steps in prop::collection::vec(step(), 1..14)) {
        let place = Place::new();
        let mut journal = place.with("j.db", 4);
        let before = lines(&journal);
        for step in &steps {
            take_step(&mut journal, step);
        }
        prop_assert_eq!(journal.check().unwrap(), Vec::<String>::new());
        let after = lines(&journal);
        // From here on everything back, then everything again: what came back from a deletion stays.
        let (mut back, mut again) = (0, 0);
        while let Some(undone) = journal.undo().unwrap() {
            (back, again) = (back + 1, again + usize::from(undone.replaced));
            prop_assert!(back < 50);
        }
        prop_assert_eq!(lines(&journal), before);
        for _ in 0..again {
            prop_assert!(journal.redo().unwrap().is_some());
        }
        if !steps.iter().any(|s| matches!(s, Step::Delete(_))) {
            prop_assert_eq!(lines(&journal), after);
        }
        prop_assert_eq!(journal.check().unwrap(), Vec::<String>::new());
    }
}
