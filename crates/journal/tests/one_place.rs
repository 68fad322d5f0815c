//! A figure that is declared in one place shows in every output: JSON and its schema, CSV, Parquet, the tables of the
//! terminal and of HTML, the journal, trends and comparisons.
#![cfg(feature = "parquet")]
#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../../review/tests/support/mod.rs"]
mod support;

use parquet::file::reader::{FileReader, SerializedFileReader};
use support::{THREE_PER_STRING, drill, scored};
use takegauge_journal::{Filter, Journal, Picked, RecordedAt, TakeRecord, takes_parquet};
use takegauge_pluck::Player;
use takegauge_report::{Style, changes_csv, compare_text, figure_names, json, score_html, score_text, trend_text};
use takegauge_review::declared::{Cell, GroupFigure, NUMBER, Shown, declare};
use takegauge_review::history::Metric;
use takegauge_review::{GroupKey, ScoreReport, Unit, Value, schemas};

/// The one place.
static MADE_UP: GroupFigure = GroupFigure {
    key: "made_up_ms",
    interval_key: "made_up_ci95_ms",
    unit: Unit::Milliseconds,
    words: "a figure made up",
    about: "The largest deviation, with an interval that means nothing.",
    shown: Some(Shown { short: "made up", wide: "made up", narrow: "made up", page: "made up", cell: Cell::Plain }),
    trend: Some(9),
    compared: true,
    of: |members| {
        let largest = members.residuals().into_iter().reduce(f64::max);
        Value::number(largest).within([largest.map(|v| v - 1.0), largest.map(|v| v + 1.0)])
    },
    ..NUMBER
};

fn style(width: usize) -> Style {
    Style { width, bold: false, every_group: true }
}

#[test]
fn a_figure_declared_in_one_place_is_in_every_output() {
    assert!(declare(&[&MADE_UP]), "nothing has asked for the figures yet");
    let drill = drill(THREE_PER_STRING, 170.0, 3);
    let reports: Vec<_> = (1..=10).map(|seed| scored(&drill, &Player { seed, ..Player::default() })).collect();
    of_one_take(&reports[0]);
    let dir = tempfile::tempdir().unwrap();
    let mut journal = Journal::open_or_create(&dir.path().join("j.db")).unwrap();
    for (day, report) in (0..).zip(&reports) {
        let record = TakeRecord {
            player: "Ada".to_owned(),
            drill: drill.to_toml(),
            audio_sha256: format!("{day:064x}"),
            path: format!("{day}.wav"),
            recorded_at: RecordedAt::new(1_767_225_600_000 + day * 86_400_000, 0).unwrap(),
            picked: Picked::All,
            guitar: String::new(),
            microphone: String::new(),
            tags: Vec::new(),
            note: String::new(),
        };
        journal.add(&record, report).unwrap();
    }
    of_a_journal(&journal, of_changes(&reports[0]), &dir.path().join("j.parquet"));
}

fn of_changes(report: &ScoreReport) -> f64 {
    report.groups.iter().find(|g| g.group == GroupKey::Change).unwrap().figures.value(&MADE_UP).unwrap()
}

fn of_one_take(report: &ScoreReport) {
    let value = of_changes(report);
    assert!(json(report).contains(&format!("\"made_up_ms\": {value:?}")));
    assert_eq!(&serde_json::from_str::<ScoreReport>(&json(report)).unwrap(), report);
    let of_score = schemas().into_iter().find(|(name, _)| *name == "score-1.json").unwrap().1;
    assert!(of_score.as_value().to_string().contains(r#""made_up_ci95_ms":{"#));
    let csv = changes_csv(report);
    assert!(csv.lines().next().unwrap().contains(",made_up_ms,made_up_low_ms,made_up_high_ms,"), "{csv}");
    for width in [100, 160] {
        let text = score_text(report, style(width));
        assert!(text.contains("made up") && text.contains(&format!("{value:.1}")), "{text}");
    }
    let html = score_html(report);
    assert!(html.contains(">made up</th>") && html.contains(&format!("<td>{value:.1}</td>")));
}

fn of_a_journal(journal: &Journal, value: f64, path: &std::path::Path) {
    let rows = journal.figure_rows(&Filter::default()).unwrap();
    let kept = rows.iter().find(|r| r.group == GroupKey::Change).unwrap();
    assert_eq!(kept.figures.value(&MADE_UP), Some(value));
    takes_parquet(&rows, &mut std::fs::File::create(path).unwrap()).unwrap();
    let table = SerializedFileReader::new(std::fs::File::open(path).unwrap()).unwrap();
    let columns: Vec<String> =
        table.metadata().file_metadata().schema_descr().columns().iter().map(|c| c.name().to_owned()).collect();
    assert!(columns.ends_with(&figure_names()) && columns.last().unwrap() == "made_up_high_ms", "{columns:?}");

    let asked = Metric::named("made_up").unwrap();
    let trend = journal.trend(&Filter::default(), ("Ada", "Simulated"), None, Some(asked)).unwrap();
    assert!(trend.rows[0].days.len() == 10 && trend.rows[0].fit.is_some(), "{:?}", trend.rows[0]);
    let text = trend_text(&trend, style(100));
    assert!(json(&trend).contains("\"metric\": \"made_up\"") && text.contains("a figure made up"), "{text}");
    let compared = journal.compare(&[1, 2], &[9, 10]).unwrap();
    let row = compared.rows.iter().find(|r| r.measure == asked && r.group == GroupKey::Change).unwrap();
    assert!(row.ci95.is_some() && compare_text(&compared, style(100)).contains("a figure made up"), "{row:?}");
}
