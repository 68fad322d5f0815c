//! A take's notes as markers for a DAW's time line: where the grid puts each note, and when it was heard.

use crate::csv::csv_line;
use crate::words::early_late;
use takegauge_review::{NoteRow, ScoreReport, Status};
use takegauge_units::{MidiKey, Seconds};

/// A named point of a take.
#[derive(Debug, Clone, PartialEq)]
pub struct Marker {
    /// In the take's own time.
    pub at: Seconds,
    /// In plain words, ASCII; notes count from 1 as they are played, from the drill's first to its last.
    pub label: String,
}

/// The markers in order of time: two for a note that was heard, one for a note that was not, one an extra attack and one
/// where a stretch set aside begins. Notes never reached have none.
pub fn markers(report: &ScoreReport) -> Vec<Marker> {
    let several = report.passes.len() > 1;
    let mut all: Vec<Marker> = Vec::new();
    let mut add = |at: f64, label: String| all.push(Marker { at: Seconds(at.max(0.0)), label });
    for n in report.notes.iter().filter(|n| n.status != Status::NotReached) {
        let name = match several {
            true => format!("pass {} note {}", n.pass + 1, n.index + 1),
            false => format!("note {}", n.index + 1),
        };
        match n.played_s {
            Some(played) => {
                add(n.expected_s, format!("{name} expected"));
                add(played, format!("{name} {}", heard(n)));
            }
            None if n.status == Status::NotJudged => add(n.expected_s, format!("{name} expected, not picked")),
            None => add(n.expected_s, format!("{name} not heard")),
        }
    }
    for e in &report.extra {
        let pitch = e.heard_midi.map_or(String::new(), |k| format!(", {}", MidiKey(k).name()));
        add(e.played_s, format!("extra{pitch}"));
    }
    for s in &report.set_aside {
        add(s.from_s, format!("set aside: {}", s.why));
    }
    all.sort_by(|a, b| a.at.0.total_cmp(&b.at.0));
    all
}

fn heard(n: &NoteRow) -> String {
    let off = early_late(n.deviation_ms.unwrap_or(0.0));
    match n.heard_midi.filter(|_| n.status == Status::WrongPitch) {
        Some(key) => format!("played as {}, {off}", MidiKey(key).name()),
        None if n.status == Status::WrongPitch => format!("played at another pitch, {off}"),
        None => format!("played, {off}"),
    }
}

/// The markers as CSV: `time_s,label`.
pub fn markers_csv(markers: &[Marker]) -> String {
    let mut text = csv_line(&["time_s", "label"].map(str::to_owned));
    for m in markers {
        text.push_str(&csv_line(&[format!("{:.6}", m.at.0), m.label.clone()]));
    }
    text
}
