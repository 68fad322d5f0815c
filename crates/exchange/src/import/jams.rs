//! JAMS note annotations (Humphrey et al., "JAMS: a JSON annotated music specification", ISMIR 2014): namespaces
//! `note_midi`, `pitch_midi` and `note_hz`. Times in seconds are moved to the steps of a given tempo.

use super::imported::{Imported, MAX_IMPORTED, Options, lose};
use super::played::{Frame, Pitch, drill};
use serde_json::Value;
use takegauge_drill::timing::TICKS;
use takegauge_drill::{DrillError, Place, Tuning};
use takegauge_units::{Bpm, MidiKey};

pub(super) fn read(text: &str, file: &str, options: &Options) -> Result<Imported, DrillError> {
    let root: Value = serde_json::from_str(text).map_err(|e| DrillError::Syntax {
        place: Place { file: file.to_owned(), line: e.line().max(1), column: e.column().max(1) },
        message: format!("not JSON that can be read: {e}"),
    })?;
    let annotations: Vec<&Value> = root.get("annotations").and_then(Value::as_array).into_iter().flatten().collect();
    let of = |names: &[&str]| -> Vec<&Value> {
        let named = |a: &&&Value| a.get("namespace").and_then(Value::as_str).is_some_and(|n| names.contains(&n));
        annotations.iter().filter(named).copied().collect()
    };
    let notes = of(&["note_midi", "pitch_midi", "note_hz"]);
    let mut losses = Vec::new();
    let tempo = options.tempo.or_else(|| {
        let written = of(&["tempo"]).first().and_then(|a| rows(a).first().and_then(|r| r.2));
        written.filter(|t| (20.0..=400.0).contains(t)).map(Bpm)
    });
    let Some(tempo) = tempo else {
        return Err(DrillError::Option {
            option: "tempo".to_owned(),
            read: "none, and the file has no tempo annotation".to_owned(),
            allowed: "20 to 400 quarter notes a minute: seconds alone make no steps".to_owned(),
        });
    };
    let strings = options.tuning.as_ref().map_or(Tuning::standard().strings(), Tuning::strings);
    let by_string = notes.len() == usize::from(strings) && notes.iter().all(|a| string_of(a, strings).is_some());
    let chosen: Vec<&Value> = match options.part {
        Some(n) => notes.get(n - 1).copied().into_iter().collect(),
        None if by_string => notes.clone(),
        None => notes.first().copied().into_iter().collect(),
    };
    if chosen.len() < notes.len() {
        lose(&mut losses, format!("One of {} note annotations is brought in.", notes.len()));
    }
    let mut pitches = Vec::new();
    for annotation in chosen {
        let hertz = annotation.get("namespace").and_then(Value::as_str) == Some("note_hz");
        let string = if by_string { string_of(annotation, strings) } else { None };
        for (time, duration, value) in rows(annotation).into_iter().take(MAX_IMPORTED + 1) {
            let key = value.map(|v| if hertz { 69.0 + 12.0 * (v / 440.0).log2() } else { v });
            let Some(key) = key.filter(|k| k.is_finite() && (0.0..=127.0).contains(&k.round())) else {
                lose(&mut losses, "Notes without a pitch are not carried.");
                continue;
            };
            let ticks = |s: f64| (s / tempo.beat().0 * TICKS as f64).round().clamp(0.0, 1e12) as u64;
            let start = ticks(time);
            pitches.push(Pitch { start, end: start + ticks(duration), key: MidiKey(key.round() as u8), string });
        }
    }
    let title = root.pointer("/file_metadata/title").and_then(Value::as_str).unwrap_or("").to_owned();
    let frame = Frame { name: title, tempo, beats_per_bar: 4, beat_unit: 4, bars: false };
    let options = Options { even: Some(options.even.unwrap_or(4)), ..options.clone() };
    drill(pitches, frame, file, &options, losses)
}

/// The string that an annotation is of: its data source, counted from 0 at the lowest.
fn string_of(annotation: &Value, strings: u8) -> Option<u8> {
    let source = annotation.pointer("/annotation_metadata/data_source")?;
    let index =
        source.as_str().and_then(|s| s.trim().parse::<u8>().ok()).or_else(|| u8::try_from(source.as_u64()?).ok())?;
    strings.checked_sub(index).filter(|s| *s >= 1)
}

/// Time, duration and value of each observation, in either of the layouts in use: a list of records or a record of
/// lists.
fn rows(annotation: &Value) -> Vec<(f64, f64, Option<f64>)> {
    let row = |time: Option<&Value>, duration: Option<&Value>, value: Option<&Value>| {
        let time = time?.as_f64().filter(|t| *t >= 0.0)?;
        Some((time, duration.and_then(Value::as_f64).unwrap_or(0.0).max(0.0), value.and_then(Value::as_f64)))
    };
    match annotation.get("data") {
        Some(Value::Array(all)) => {
            all.iter().filter_map(|r| row(r.get("time"), r.get("duration"), r.get("value"))).collect()
        }
        Some(Value::Object(lists)) => {
            let list = |name: &str| lists.get(name).and_then(Value::as_array);
            let cell = |name: &str, i: usize| list(name).and_then(|l| l.get(i));
            (0..list("time").map_or(0, Vec::len))
                .filter_map(|i| row(cell("time", i), cell("duration", i), cell("value", i)))
                .collect()
        }
        _ => Vec::new(),
    }
}
