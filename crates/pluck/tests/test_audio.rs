//! The committed takes are the scenes of the same names: their answers and drills still follow from the code.
#![allow(clippy::unwrap_used, clippy::panic)]

use serde_json::Value;
use std::path::Path;
use takegauge_drill::Drill;
use takegauge_pluck::{answers::Answers, scenes};

/// Across machines the last digit may differ: times within 2 us, all else exactly.
fn same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => {
            (a.as_f64().unwrap_or(f64::NAN) - b.as_f64().unwrap_or(f64::NAN)).abs() <= 2e-6
        }
        (Value::Array(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b)),
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(k, v)| b.get(k).is_some_and(|w| same(v, w)))
        }
        _ => a == b,
    }
}

#[test]
fn committed_answers_and_drills_are_those_of_the_scenes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../test-audio");
    let mut takes = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "json") {
            continue;
        }
        let committed: Value = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
        let Some(name) = committed["scene"].as_str() else { continue };
        let scene = scenes::by_name(name).unwrap();
        let made = serde_json::to_value(Answers::of(&scene, &scene.perform())).unwrap();
        assert!(same(&committed, &made), "{} is out of date: run the example make_test_audio", path.display());
        let drill = Drill::read(path.with_extension("toml")).unwrap();
        assert_eq!(drill.grid(), scene.drill.grid(), "{}", path.display());
        takes += 1;
    }
    assert_eq!(takes, 8);
}
