//! Scenes by name: a drill, a player and a recording, so that tests anywhere in the workspace speak of the same takes.

mod lines;

use crate::player::{Happens, Pass, Player, Selector};
use crate::sound::{Guitar, Sound, rate};
use crate::{Performance, Rendered, perform, render};
use lines::{BASS, ECONOMY, LEGATO, MARKS, NINE, ONE_STRING, PAIRS, RESTS, ROLL, THREES, TWO_STRINGS};
use takegauge_drill::{ChangeKind, Drill, Stroke};
use takegauge_units::{Bpm, Decibels, Millis, Seconds};

/// Everything a take is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// As asked for.
    pub name: String,
    /// What is special about it, in plain words.
    pub what: String,
    /// What is played.
    pub drill: Drill,
    /// How.
    pub player: Player,
    /// And how it is recorded.
    pub sound: Sound,
}

impl Scene {
    /// The timing alone.
    pub fn perform(&self) -> Performance {
        perform(&self.drill, &self.player)
    }

    /// The timing and the recording of it.
    pub fn render(&self) -> (Performance, Rendered) {
        let performance = self.perform();
        let rendered = render(&performance, &self.sound);
        (performance, rendered)
    }
}

/// Tempos of the ladder scenes, `ladder_90` to `ladder_240`.
const LADDER_BPM: [u16; 10] = [90, 120, 140, 160, 170, 180, 190, 200, 220, 240];
/// Above this the ladder's inside changes come apart: later by 0.12 ms and looser by 0.16 ms a bpm.
const LADDER_HINGE_BPM: f64 = 170.0;

const NAMES: [&str; 45] = [
    "clean_slow",
    "clean_fast",
    "clean_limit",
    "late_inside",
    "early_outside",
    "late_one_pair",
    "loose_inside",
    "smear_one_pair",
    "uneven_strokes",
    "quiet_upstrokes",
    "tired",
    "faster",
    "slower",
    "rushing",
    "dragging",
    "wandering",
    "slips",
    "place_offsets",
    "missed",
    "extra",
    "brushed",
    "wrong",
    "mixed_errors",
    "false_start",
    "two_passes",
    "restarts",
    "long_lead_in",
    "rests",
    "economy",
    "legato",
    "marks",
    "roll",
    "bass",
    "nine_strings",
    "flat_guitar",
    "archtop_ringing",
    "acoustic_room",
    "noisy",
    "hum",
    "driven",
    "driven_ticks_soft",
    "phone",
    "click_bleed",
    "pick_ticks",
    "echo",
];

/// The names that [`by_name`] knows, in a fixed order.
pub fn names() -> Vec<String> {
    NAMES.iter().map(|n| (*n).to_owned()).chain(LADDER_BPM.iter().map(|b| format!("ladder_{b}"))).collect()
}

/// A scene; `None` for a name that [`names`] does not list.
pub fn by_name(name: &str) -> Option<Scene> {
    if let Some(tempo) = name.strip_prefix("ladder_") {
        return ladder(tempo.parse().ok().filter(|t| LADDER_BPM.contains(t))?);
    }
    let seed = 1 + NAMES.iter().position(|n| *n == name)? as u64;
    timing(name, seed)
        .or_else(|| mistakes(name, seed))
        .or_else(|| lines_of_all_kinds(name, seed))
        .or_else(|| sounds(name, seed))
}

fn scene(name: &str, what: &str, line: &str, bpm: f64, player: Player, sound: Sound) -> Option<Scene> {
    let mut drill = Drill::parse(line, name).ok()?;
    drill.tempo = Bpm(bpm);
    Some(Scene { name: name.to_owned(), what: what.to_owned(), drill, player, sound })
}

fn ladder(bpm: u16) -> Option<Scene> {
    let over = (f64::from(bpm) - LADDER_HINGE_BPM).max(0.0);
    let inside = Selector::Kind(ChangeKind::Inside);
    let player = Player {
        seed: 500 + u64::from(bpm),
        biases: vec![(inside, Millis(0.12 * over))],
        loose: vec![(inside, Millis(0.16 * over))],
        ..Player::default()
    };
    let what = "a ladder whose inside changes come apart above 170 bpm";
    scene(&format!("ladder_{bpm}"), what, THREES, f64::from(bpm), player, Sound::default())
}

/// Steady habits and faults of time.
fn timing(name: &str, seed: u64) -> Option<Scene> {
    let inside = Selector::Kind(ChangeKind::Inside);
    let pair = Selector::Pair { from: 3, to: 2 };
    let p = Player { seed, ..Player::default() };
    let ms = Millis;
    let (what, line, bpm, player) = match name {
        "clean_slow" => ("steady and slow", THREES, 90.0, p),
        "clean_fast" => ("steady and fast", THREES, 200.0, p),
        "clean_limit" => ("steady at 16 notes a second", THREES, 240.0, p),
        "late_inside" => {
            ("inside changes land 14 ms late", THREES, 170.0, Player { biases: vec![(inside, ms(14.0))], ..p })
        }
        "early_outside" => {
            let outside = Selector::Kind(ChangeKind::Outside);
            ("outside changes land 9 ms early", THREES, 150.0, Player { biases: vec![(outside, ms(-9.0))], ..p })
        }
        "late_one_pair" => {
            ("string 3 to 2 lands 16 ms late", PAIRS, 170.0, Player { biases: vec![(pair, ms(16.0))], ..p })
        }
        "loose_inside" => {
            let player = Player { spread: ms(3.0), loose: vec![(inside, ms(11.5))], ..p };
            ("inside changes scatter four times as much as the rest", THREES, 170.0, player)
        }
        "smear_one_pair" => {
            let player = Player { smears: vec![(pair, ms(70.0))], ..p };
            ("string 3 rings 85 ms into string 2, others 15 ms", TWO_STRINGS, 150.0, player)
        }
        "uneven_strokes" => {
            let up = Selector::Stroke(Stroke::Up);
            let player = Player { spread: ms(3.0), biases: vec![(up, ms(12.0))], ..p };
            ("upstrokes 12 ms behind downstrokes", THREES, 180.0, player)
        }
        "quiet_upstrokes" => {
            let levels = vec![(Selector::Stroke(Stroke::Up), Decibels(-5.0))];
            ("upstrokes 5 dB quieter than the stroke alone makes them", THREES, 160.0, Player { levels, ..p })
        }
        "tired" => {
            let player = Player { spread: ms(3.0), fatigue: 3.0, ..p };
            ("spread grows fourfold from start to end", ONE_STRING, 170.0, player)
        }
        "faster" => ("2 % faster than the drill, steadily", THREES, 140.0, Player { tempo_factor: 1.02, ..p }),
        "slower" => ("1.5 % slower than the drill, steadily", THREES, 160.0, Player { tempo_factor: 1.0 / 1.015, ..p }),
        "rushing" => ("5 % faster at the end than at the start", THREES, 140.0, Player { tempo_change: 0.05, ..p }),
        "dragging" => ("5 % slower at the end than at the start", THREES, 140.0, Player { tempo_change: -0.05, ..p }),
        "wandering" => ("the pulse wanders slowly, SD 8 ms", THREES, 150.0, Player { wander: ms(8.0), ..p }),
        "slips" => {
            ("1 note in 20 slips by 16 to 32 ms", THREES, 150.0, Player { slips: 0.05, slip_size: ms(16.0), ..p })
        }
        "place_offsets" => (
            "every place of the line has an offset of its own, SD 1.5 ms",
            THREES,
            150.0,
            Player { place_spread: ms(1.5), ..p },
        ),
        _ => return None,
    };
    scene(name, what, line, bpm, player, Sound::default())
}

/// Notes missed, too many, wrong; starts broken off.
fn mistakes(name: &str, seed: u64) -> Option<Scene> {
    let p = Player { seed, spread: Millis(5.0), ..Player::default() };
    let mut sound = Sound::default();
    let (what, player) = match name {
        "missed" => ("4 notes missed", Player { missed: Happens::At(vec![13, 40, 71, 90]), ..p }),
        "extra" => ("3 notes too many", Player { extra: Happens::At(vec![10, 52, 88]), ..p }),
        "brushed" => {
            ("a neighbouring string brushed 4 times", Player { brushed: Happens::At(vec![8, 33, 60, 95]), ..p })
        }
        "wrong" => ("3 notes fretted wrong", Player { wrong: Happens::At(vec![16, 47, 82]), ..p }),
        "mixed_errors" => {
            let player = Player {
                spread: Millis(7.0),
                missed: Happens::At(vec![20, 75]),
                extra: Happens::At(vec![31]),
                brushed: Happens::At(vec![57]),
                wrong: Happens::At(vec![44, 91]),
                ..p
            };
            ("2 missed, 1 too many, 1 brushed, 2 wrong", player)
        }
        "false_start" => {
            let start = Pass { notes: 9, ..Pass::WHOLE };
            let again = Pass { pause: Seconds(1.4), ..Pass::WHOLE };
            ("broken off after 9 notes, then whole", Player { passes: vec![start, again], ..p })
        }
        "two_passes" => {
            sound.talk = Some(Decibels(-26.0));
            let second = Pass { pause: Seconds(4.0), noodling: 6, ..Pass::WHOLE };
            ("two passes with talk and free playing between", Player { passes: vec![Pass::WHOLE, second], ..p })
        }
        "restarts" => {
            sound.talk = Some(Decibels(-30.0));
            let first = Pass { notes: 61, ..Pass::WHOLE };
            let middle = Pass { first: 36, notes: 40, pause: Seconds(2.0), noodling: 0 };
            let last = Pass { pause: Seconds(2.5), ..Pass::WHOLE };
            let passes = vec![first, middle, last];
            ("stops at note 61, takes up the second repeat, stops, plays the whole", Player { passes, ..p })
        }
        "long_lead_in" => ("silence of 4.4 s before", Player { lead_in: Seconds(4.37), ..p }),
        _ => return None,
    };
    scene(name, what, THREES, 160.0, player, sound)
}

/// Lines that ask for other things than threes.
fn lines_of_all_kinds(name: &str, seed: u64) -> Option<Scene> {
    let p = Player { seed, ..Player::default() };
    let s = Sound::default();
    let guitar = |guitar| Sound { guitar, ..Sound::default() };
    let (what, line, bpm, player, sound) = match name {
        "rests" => ("rests and held notes", RESTS, 132.0, p, s),
        "economy" => ("sweeps where the direction allows", ECONOMY, 160.0, p, s),
        "legato" => ("hammer-ons and pull-offs", LEGATO, 140.0, p, s),
        "marks" => ("chords, dead and palm-muted notes, accents", MARKS, 140.0, p, guitar(Guitar::Neck)),
        "roll" => ("one note a string, ringing 60 ms over", ROLL, 150.0, Player { ring: Millis(60.0), ..p }, s),
        "bass" => ("bass guitar", BASS, 110.0, p, guitar(Guitar::Bass)),
        "nine_strings" => ("nine strings from C#1", NINE, 120.0, p, guitar(Guitar::Neck)),
        "flat_guitar" => ("the whole guitar 35 cents flat", PAIRS, 140.0, p, Sound { cents: -35.0, ..s }),
        _ => return None,
    };
    scene(name, what, line, bpm, player, sound)
}

/// Ways to record.
fn sounds(name: &str, seed: u64) -> Option<Scene> {
    let p = Player { seed, spread: Millis(5.0), ..Player::default() };
    let s = Sound::default();
    let db = |x| Some(Decibels(x));
    let ringing = Player { ring: Millis(250.0), ..p.clone() };
    let (what, bpm, player, sound) = match name {
        "archtop_ringing" => ("strings ring 250 ms over", 120.0, ringing, Sound { guitar: Guitar::Archtop, ..s }),
        "acoustic_room" => {
            let sound = Sound { guitar: Guitar::Acoustic, room: db(-4.0), noise: db(-58.0), rate: rate(48_000), ..s };
            ("acoustic guitar in a room, 48 kHz", 140.0, p, sound)
        }
        "noisy" => ("noise at -40 dBFS, 30 dB under the notes' peaks", 160.0, p, Sound { noise: db(-40.0), ..s }),
        "hum" => ("mains hum", 170.0, p, Sound { hum: db(-42.0), noise: db(-60.0), ..s }),
        "driven" => ("12 dB into a limiter", 180.0, p, Sound { drive: db(12.0), noise: db(-65.0), ..s }),
        "driven_ticks_soft" => {
            let player = Player { soft: Happens::Chance(0.25), ring: Millis(30.0), ..p };
            let sound = Sound { drive: db(20.0), pick_ticks: db(-18.0), noise: db(-70.0), ..s };
            ("driven hard, a quarter of the strokes soft, the pick heard touching", 200.0, player, sound)
        }
        "phone" => ("a telephone's band", 180.0, p, Sound { phone: true, noise: db(-45.0), room: db(-8.0), ..s }),
        "click_bleed" => {
            let player = Player { lead_in: Seconds(2.2), ..p };
            ("the click leaks in at -32 dBFS", 150.0, player, Sound { click_bleed: db(-32.0), ..s })
        }
        "pick_ticks" => ("the pick heard touching 3 to 7 ms before", 160.0, p, Sound { pick_ticks: db(-18.0), ..s }),
        "echo" => {
            ("an echo after 310 ms at -9 dB", 110.0, p, Sound { echo: Some((Millis(310.0), Decibels(-9.0))), ..s })
        }
        _ => return None,
    };
    scene(name, what, THREES, bpm, player, sound)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_is_a_scene_and_no_other() {
        for name in names() {
            let scene = by_name(&name).unwrap_or_else(|| panic!("{name}"));
            assert_eq!(scene.name, name);
            let played = scene.perform();
            assert!(played.notes.len() >= 24, "{name}: {}", played.notes.len());
        }
        for other in ["", "clean", "ladder_", "ladder_91", "ladder_x"] {
            assert_eq!(by_name(other), None, "{other}");
        }
    }

    #[test]
    fn threes_hold_inside_and_outside_changes_in_equal_number() {
        let grid = by_name("late_inside").unwrap().drill.grid();
        let count = |kind| grid.iter().filter(|n| n.change.is_some_and(|c| c.kind == Some(kind))).count();
        assert_eq!(count(ChangeKind::Inside), 15);
        assert_eq!(count(ChangeKind::Outside), 15);
    }
}
