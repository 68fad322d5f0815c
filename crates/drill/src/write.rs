//! Writing a drill as the file that reads back to it.

use crate::line::write_step;
use crate::{AfterGap, Drill, Worded};
use std::fmt::Write as _;
use takegauge_units::Bpm;

impl Drill {
    /// What it asks to be played, however often and at whatever tempo, as a version 1 file: drills that differ in these, in
    /// name or in note alone are one.
    pub fn played_toml(&self) -> String {
        let (name, note) = ("drill".to_owned(), String::new());
        Self { name, note, tempo: Bpm(100.0), repeats: 1, ..self.clone() }.to_toml()
    }

    /// The drill as a version 1 file: what [`Drill::parse`] reads back to an equal drill. Keys that have their
    /// default are left out, except those that a reader wants to see.
    pub fn to_toml(&self) -> String {
        let mut t = String::new();
        let mut put = |key: &str, value: String| {
            let _ = writeln!(t, "{key} = {value}");
        };
        put("name", quote(&self.name));
        if !self.note.is_empty() {
            put("note", quote(&self.note));
        }
        put("tempo_bpm", number(self.tempo.0));
        put("steps_per_beat", self.steps_per_beat.to_string());
        put("beats_per_bar", self.beats_per_bar.to_string());
        if self.beat_unit != 4 {
            put("beat_unit", self.beat_unit.to_string());
        }
        if self.pickup_steps != 0 {
            put("pickup_steps", self.pickup_steps.to_string());
        }
        put("repeats", self.repeats.to_string());
        put("tuning", quote(&self.tuning.pitches()));
        if self.capo != 0 {
            put("capo", self.capo.to_string());
        }
        if self.a4.0 != 440.0 {
            put("a4_hz", number(self.a4.0));
        }
        put("picking", quote(self.picking.word()));
        put("first_stroke", quote(self.first_stroke.word()));
        if self.after_gap != AfterGap::Next {
            put("after_gap", quote(self.after_gap.word()));
        }
        if self.swing != 50.0 {
            put("swing", number(self.swing));
        }
        let _ = write!(t, "line = \"\"\"\n{}\"\"\"\n", self.line_text(100));
        t
    }

    /// The line as a drill file has it, broken at bars and before `width` characters.
    pub(crate) fn line_text(&self, width: usize) -> String {
        let mut rows: Vec<String> = vec![String::new()];
        let mut bars = self.bars.iter().peekable();
        let mut divisions = self.divisions.iter().peekable();
        let mut put = |token: &str, new_row: bool| {
            let full = rows.last().is_some_and(|r| r.chars().count() + 1 + token.len() > width);
            if (full || new_row) && rows.last().is_some_and(|r| !r.is_empty()) {
                rows.push(String::new());
            }
            if let Some(row) = rows.last_mut() {
                if !row.is_empty() {
                    row.push(' ');
                }
                row.push_str(token);
            }
        };
        for position in 0..=self.line.len() {
            if bars.next_if(|b| **b == position).is_some() {
                put("|", position != 0 && position != self.line.len());
            }
            if let Some((_, n)) = divisions.next_if(|d| d.0 == position) {
                put(&format!("/{n}"), false);
            }
            if let Some(step) = self.line.get(position) {
                put(&write_step(step), false);
            }
        }
        rows.iter().map(|r| format!("{r}\n")).collect()
    }
}

/// A number as TOML has it, whole ones without a fraction.
fn number(x: f64) -> String {
    if x.fract() == 0.0 && x.abs() < 1e15 { format!("{x:.0}") } else { format!("{x}") }
}

fn quote(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn note() -> impl Strategy<Value = String> {
        let place = (1u8..=6, 0u8..=24).prop_map(|(s, f)| format!("{s}:{f}"));
        let mark = prop::sample::select(vec!["", "d", "u", "h", "p", ">", "x", "m", "r", "d>", "uxm", "hr"]);
        prop_oneof![
            6 => (place, mark).prop_map(|(p, m)| p + m),
            1 => Just("-".to_owned()),
            1 => Just("|".to_owned()),
            1 => (1u8..=12).prop_map(|n| format!("/{n}")),
            1 => Just("[5:7 4:7 3:8]u>".to_owned()),
            1 => Just("1:3 ~ ~".to_owned()),
        ]
    }

    proptest! {
        #[test]
        fn files_round_trip(
            line in prop::collection::vec(note(), 0..80),
            name in "[^\\x00-\\x1f\\x7f-\\u{9f}]{0,20}x",
            remark in any::<String>(),
            tempo in 20.0f64..400.0,
            swing in 20.0f64..80.0,
            repeats in 1u32..5,
            capo in 0u8..=12,
            beat_unit in prop::sample::select(vec![2u8, 4, 8]),
        ) {
            let mut drill = Drill::parse(
                &format!(
                    "name='t'\ntempo_bpm=90\nsteps_per_beat=4\nbeats_per_bar=3\ntuning='drop d'\nafter_gap='hand'\n\
                     first_stroke='up'\npicking='economy'\na4_hz=442.5\npickup_steps=1\nline='6:1 6:2 {}'",
                    line.join(" ")
                ),
                "t",
            ).unwrap();
            drill.name = name;
            drill.note = remark;
            drill.tempo = takegauge_units::Bpm(tempo);
            drill.swing = swing;
            drill.repeats = repeats;
            drill.capo = capo;
            drill.beat_unit = beat_unit;
            let text = drill.to_toml();
            let back = Drill::parse(&text, "t").map_err(|e| TestCaseError::fail(format!("{e}\n{text}")))?;
            prop_assert_eq!(&back, &drill);
            prop_assert_eq!(back.to_toml(), text);
        }

        #[test]
        fn no_text_panics(text in "[ -~\\n]{0,200}", line in "[0-9:\\[\\]|~/xdhpum> -]{0,60}") {
            let _ = Drill::parse(&text, "t");
            let head = "name='t'\ntempo_bpm=90\nsteps_per_beat=4\ntuning='standard'\nline='";
            if let Ok(drill) = Drill::parse(&format!("{head}{line}'"), "t") {
                prop_assert_eq!(drill.grid().len(), drill.notes_in_line());
            }
        }
    }
}
