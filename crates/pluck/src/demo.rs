//! The demonstration: one drill, one player whose faults are known, and those faults in words.

use crate::player::{Happens, Player, Selector};
use crate::scenes::Scene;
use crate::sound::Sound;
use takegauge_drill::{ChangeKind, Drill, DrillError};
use takegauge_units::{Decibels, Millis};

/// The drill, as a file.
pub const DRILL: &str = r#"name = "Evening threes"
tempo_bpm = 160
steps_per_beat = 4
beats_per_bar = 4
repeats = 12
tuning = "E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
note = "Made up for the demonstration."
line = """
5:7 5:8 5:10 4:7 4:9 4:10 3:7 3:9 3:11 2:8 2:10 2:12 1:8 1:10 1:12
1:13 1:12 1:10 2:12 2:10 2:8 3:11 3:9 3:7 4:10 4:9 4:7 5:10 5:8 5:7 - -
"""
"#;

const LATE_MS: f64 = 14.0;
const RING_MS: f64 = 15.0;
const SMEAR_MS: f64 = 75.0;
const SMEARS: (u8, u8) = (3, 2);
const MISSED: usize = 97;
const EXTRA: usize = 160;
const WRONG: usize = 221;
const SPREAD_MS: f64 = 4.0;

/// The scene: about 35 s at 160 bpm, 360 notes.
///
/// # Errors
/// Those of [`Drill::parse`]; a test proves that [`DRILL`] gives none.
pub fn scene() -> Result<Scene, DrillError> {
    let pair = Selector::Pair { from: SMEARS.0, to: SMEARS.1 };
    let player = Player {
        seed: 20,
        spread: Millis(SPREAD_MS),
        biases: vec![(Selector::Kind(ChangeKind::Inside), Millis(LATE_MS))],
        ring: Millis(RING_MS),
        smears: vec![(pair, Millis(SMEAR_MS - RING_MS))],
        missed: Happens::At(vec![MISSED]),
        extra: Happens::At(vec![EXTRA]),
        wrong: Happens::At(vec![WRONG]),
        ..Player::default()
    };
    let sound = Sound { noise: Some(Decibels(-72.0)), ..Sound::default() };
    let what = "inside changes late, one pair ringing over, one note missed, one too many, one wrong".to_owned();
    Ok(Scene { name: "demo".to_owned(), what, drill: Drill::parse(DRILL, "demo.toml")?, player, sound })
}

/// What was put in, a sentence each.
pub fn faults() -> Vec<String> {
    vec![
        format!("Inside string changes land {LATE_MS:.0} ms late."),
        format!("All notes scatter by {SPREAD_MS:.0} ms (standard deviation)."),
        format!(
            "String {} rings about {SMEAR_MS:.0} ms into string {}; other strings stop after about {RING_MS:.0} ms.",
            SMEARS.0, SMEARS.1
        ),
        format!("Note {} of the take is missed (index {MISSED}).", MISSED + 1),
        format!("One note too many is played after note {} (index {EXTRA}).", EXTRA + 1),
        format!("Note {} is fretted wrong (index {WRONG}).", WRONG + 1),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ExtraKind, Status};

    #[test]
    fn the_faults_are_in_the_take() {
        let scene = scene().unwrap();
        let played = scene.perform();
        assert_eq!(played.notes.len(), 360);
        assert!((30.0..60.0).contains(&played.length.0), "{:?}", played.length);
        let with = |status| played.notes.iter().filter(|n| n.status == status).map(|n| n.index).collect::<Vec<_>>();
        assert_eq!(with(Status::Missed), [MISSED]);
        assert_eq!(with(Status::WrongPitch), [WRONG]);
        assert_eq!(
            played.extras.iter().map(|e| (e.kind, e.after_index)).collect::<Vec<_>>(),
            [(ExtraKind::Extra, Some(EXTRA))]
        );
        let mean = |inside: bool| {
            let d: Vec<f64> = played
                .notes
                .iter()
                .filter(|n| (n.change.and_then(|c| c.kind) == Some(ChangeKind::Inside)) == inside)
                .filter_map(|n| n.deviation().map(|d| d.0))
                .collect();
            d.iter().sum::<f64>() / d.len() as f64
        };
        assert!((mean(true) - mean(false) - LATE_MS).abs() < 2.0, "{} {}", mean(true), mean(false));
        let overlaps = |smeared: bool| {
            let o: Vec<f64> = played
                .notes
                .iter()
                .filter(|n| n.change.is_some_and(|c| (c.from, c.to) == SMEARS) == smeared)
                .filter_map(|n| n.overlap.map(|o| o.0))
                .collect();
            o.iter().sum::<f64>() / o.len() as f64
        };
        assert!((overlaps(true) - SMEAR_MS).abs() < 4.0, "{}", overlaps(true));
        assert!((overlaps(false) - RING_MS).abs() < 4.0, "{}", overlaps(false));
        assert_eq!(faults().len(), 6);
    }
}
