//! `takegauge demo`: the report finds what was put in.

use crate::common::{Place, fits};
use serde_json::Value;
use takegauge_drill::ChangeKind;

#[test]
fn the_demo_finds_the_faults_that_were_put_in() {
    let place = Place::new();
    let run = place.run(["demo", "-o", "demo"]).done();
    assert!(run.out.contains("What was put into this take on purpose"), "{}", run.out);
    let report: Value = serde_json::from_str(&place.read("demo/score.json")).unwrap();
    fits(&report, "score-1.json");
    let found = |group: &str, measure: &str| {
        let rows = report["findings"].as_array().unwrap();
        let fits_as_well = |f: &Value| f["or_also"].as_array().unwrap().iter().any(|g| g == group);
        rows.iter().find(|f| f["measure"] == measure && (f["group"] == group || fits_as_well(f))).cloned()
    };
    let late = found("inside", "bias").unwrap()["value"].as_f64().unwrap();
    // 14 ms were put in; with 4 ms of scatter on 44 notes this take itself holds a little more or less.
    let played = takegauge_pluck::demo::scene().unwrap().perform();
    let mean = |inside: bool| {
        let is =
            |n: &&takegauge_pluck::PlayedNote| n.change.is_some_and(|c| c.kind == Some(ChangeKind::Inside)) == inside;
        let d: Vec<f64> = played.notes.iter().filter(is).filter_map(|n| n.deviation()).map(|d| d.0).collect();
        d.iter().sum::<f64>() / d.len() as f64
    };
    let answer = mean(true) - mean(false);
    assert!((late - answer).abs() < 1.0, "inside changes: {late} ms late found, {answer} in this take");
    assert!(found("3>2", "smear").is_some(), "string 3 rings over into string 2: {:#}", report["findings"]);
    let with = |status: &str| -> Vec<u64> {
        let notes = report["notes"].as_array().unwrap().iter();
        notes.filter(|n| n["status"] == status).map(|n| n["index"].as_u64().unwrap()).collect()
    };
    assert_eq!((with("missed"), with("wrong_pitch")), (vec![97], vec![221]));
    let after: Vec<&Value> = report["extra"].as_array().unwrap().iter().map(|x| &x["after_index"]).collect();
    assert_eq!(after, [160]);
    let spread = report["summary"]["spread_ms"]["value"].as_f64().unwrap();
    assert!((spread - 4.0).abs() < 0.6, "{spread} ms of scatter found, 4 put in");
}

#[test]
fn the_demo_writes_its_four_files_and_the_report_needs_no_network() {
    let place = Place::new();
    place.run(["demo", "-o", "demo", "--quiet"]).done();
    for name in ["take.wav", "drill.toml", "score.json", "report.html"] {
        assert!(place.path("demo").join(name).is_file(), "{name}");
    }
    let page = place.read("demo/report.html");
    for outside in ["src=\"http", "href=\"http", "url(http", "@import"] {
        assert!(!page.contains(outside), "the report asks for {outside}");
    }
    place.run(["demo", "-o", "demo/take.wav"]).stopped(2, "a file stands where this folder would be");
}
