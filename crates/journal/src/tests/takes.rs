//! Takes in, out, changed and taken out.

use super::{Place, lines};
use crate::testing::{DRILL, report, take};
use crate::*;
use takegauge_review::GroupKey;
use takegauge_review::declared::{BIAS, N, SPREAD, flat_columns};
use takegauge_review::history::figures_of;

#[test]
fn a_take_comes_back_as_it_went_in() {
    let place = Place::new();
    let journal = place.with("deep/down/j.db", 1);
    let (record, report) = take(0);
    let (back, drill, score) = journal.take(1).unwrap();
    assert_eq!(back, TakeRecord { drill: drill.to_toml(), ..record });
    assert_eq!((score, drill.name.as_str()), (report.clone(), "Threes"));
    let points = journal.points(&Filter::default(), GroupKey::WholeTake).unwrap();
    assert_eq!(points[0].figures.value(&SPREAD), report.summary.spread_ms.value);
    let change = report.groups.iter().find(|g| g.group == GroupKey::Change).unwrap();
    let points = journal.points(&Filter::default(), GroupKey::Change).unwrap();
    for figure in [&SPREAD, &BIAS, &N] {
        assert_eq!(points[0].figures.get(figure), change.figures.get(figure), "{}", figure.key);
    }
    assert!(matches!(journal.take(2), Err(JournalError::NoTake(2))));
}

#[test]
fn the_figures_of_every_take_are_its_reports() {
    let place = Place::new();
    let mut journal = place.with("j.db", 9);
    // A scatter that reaches 0 has an upper limit alone, and slips are counted of the whole take too.
    let (record, mut report) = take(20);
    report.summary.slips = 2;
    report.summary.spread_ms = serde_json::from_str(
        r#"{"value":null,"ci95":null,"n":40,"withheld":"below 1.2 ms","reason":"below_detector","below":1.234}"#,
    )
    .unwrap();
    let unresolved = report.groups[1].figures.get(&SPREAD).within([None, Some(1.5)]);
    report.groups[1].figures.set(&SPREAD, unresolved);
    journal.add(&record, &report).unwrap();
    let rows = journal.figure_rows(&Filter::default()).unwrap();
    for of_take in rows.chunk_by(|a, b| a.take.take == b.take.take) {
        let report = journal.take(of_take[0].take.take).unwrap().2;
        let told: Vec<_> = figures_of(&report).map(|(key, label, figures)| (key, label.to_owned(), figures)).collect();
        let kept: Vec<_> = of_take.iter().map(|r| (r.group, r.label.clone(), r.figures.clone())).collect();
        assert_eq!(kept, told, "take {}", of_take[0].take.take);
    }
    let last = &rows[rows.iter().rposition(|r| r.group == GroupKey::WholeTake).unwrap()].figures;
    assert_eq!(
        (last.flat(flat_columns().find(|c| c.name() == "slips").unwrap()), last.ends(&SPREAD)),
        (Some(2.0), Some([None, Some(1.234)]))
    );
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
    // Another place of the file is no new score; another word beside it is.
    let mut moved = (TakeRecord { path: "new/place.wav".to_owned(), ..record.clone() }, take(0).1);
    moved.1.take.path = moved.0.path.clone();
    assert_eq!(journal.add(&moved.0, &moved.1).unwrap(), Added::Same(1));
    let (here, _, score) = journal.take(1).unwrap();
    assert_eq!((here.path.as_str(), score.take.path.as_str()), ("new/place.wav", "new/place.wav"));
    let word = TakeRecord { note: "another".to_owned(), ..moved.0 };
    assert_eq!(journal.add(&word, &moved.1).unwrap(), Added::Rescored(1));
    assert_eq!(journal.undo().unwrap().unwrap().takes, [1]);
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
    assert_eq!(second.import_lines(&mut text.as_bytes(), &mut |_| told += 1).unwrap(), 7);
    assert_eq!((lines(&second), told), (text.clone(), 7));
    assert_eq!(
        second
            .import_lines(&mut text.as_bytes(), &mut |a| assert!(matches!(a, Imported::Take(Added::Same(_), _))))
            .unwrap(),
        7
    );
    let cut = &text[..text.len() - 100];
    let mut third = Journal::open_or_create(&place.file("c.db")).unwrap();
    let e = third.import_lines(&mut cut.as_bytes(), &mut |_| {}).unwrap_err();
    assert!(matches!(e, JournalError::Line { line: 7, .. }), "{e}");
    assert_eq!(third.list(&Filter::default()).unwrap().len(), 6);
    let wrong = text.replacen("journal-take/1", "journal-take/9", 1);
    assert!(third.import_lines(&mut wrong.as_bytes(), &mut |_| {}).is_err());
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

#[test]
fn takes_dated_in_the_future_made_a_plan_say_that_there_are_none() {
    let place = Place::new();
    let journal = place.with("j.db", 3);
    let plan = journal.plan(&Filter::default(), "2025-06-01".parse().unwrap()).unwrap();
    assert!(plan.lines.is_empty());
    assert!(plan.cautions.iter().any(|c| c.starts_with("3 takes are dated after 2025-06-01")), "{:?}", plan.cautions);
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
    assert_eq!(reader.metadata().file_metadata().schema_descr().num_columns(), 16 + flat_columns().count());
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
