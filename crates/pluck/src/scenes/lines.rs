//! The drills of the scenes: lines of our own, as drill files.

/// Three notes a string, up and back: inside and outside changes in equal number, both ways.
pub(super) const THREES: &str = r#"
name = "Threes across and back"
tempo_bpm = 170
steps_per_beat = 4
beats_per_bar = 4
repeats = 3
tuning = "E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
line = """
6:5 6:7 6:8 5:5 5:7 5:8 4:5 4:7 4:9 3:5 3:7 3:9 2:6 2:8 2:10 1:7 1:8 1:10
1:12 1:10 1:8 2:10 2:8 2:6 3:9 3:7 3:5 4:9 4:7 4:5 5:8 5:7 5:5 6:8 6:7 6:5
"""
"#;

/// Two notes a string: every string is left on an upstroke.
pub(super) const PAIRS: &str = r#"
name = "Pairs in one position"
tempo_bpm = 170
steps_per_beat = 4
beats_per_bar = 4
repeats = 4
tuning = "E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
line = "6:5 6:8 5:5 5:7 4:5 4:7 3:5 3:7 2:5 2:8 1:5 1:8 2:8 2:5 3:7 3:5 4:7 4:5 5:7 5:5"
"#;

/// One note a string.
pub(super) const ROLL: &str = r#"
name = "Roll over three strings"
tempo_bpm = 150
steps_per_beat = 4
beats_per_bar = 4
repeats = 8
tuning = "E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
line = "4:7 3:7 2:8 3:7 4:9 3:9 2:10 3:9"
"#;

/// Strings 3 and 2 only: the change from 3 to 2 comes often, outside and inside.
pub(super) const TWO_STRINGS: &str = r#"
name = "Back and forth on two strings"
tempo_bpm = 170
steps_per_beat = 4
beats_per_bar = 4
repeats = 6
tuning = "E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
line = "3:5 3:7 3:9 2:6 2:8 3:9 3:7 2:6 2:8 2:10 2:8 3:9 3:7 3:5 3:7 3:9"
"#;

/// One string, one note: nothing but strokes.
pub(super) const ONE_STRING: &str = r#"
name = "Steady on one string"
tempo_bpm = 170
steps_per_beat = 4
beats_per_bar = 4
repeats = 16
tuning = "E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
line = "2:7 2:7 2:7 2:7 2:7 2:7 2:7 2:7 2:8 2:8 2:8 2:8 2:10 2:10 2:8 2:8"
"#;

/// Rests and held notes.
pub(super) const RESTS: &str = r#"
name = "Bursts with rests"
tempo_bpm = 132
steps_per_beat = 4
beats_per_bar = 4
repeats = 4
tuning = "E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
line = "5:5 5:7 5:8 4:5 4:7 ~ ~ - 3:5 3:7 2:6 2:8 ~ ~ - - 2:8 2:6 3:7 3:5 4:7 ~ ~ - 4:5 5:8 5:7 5:5 ~ ~ - -"
"#;

/// Sweeps where the direction allows.
pub(super) const ECONOMY: &str = r#"
name = "Threes with sweeps"
tempo_bpm = 160
steps_per_beat = 4
beats_per_bar = 4
repeats = 4
picking = "economy"
tuning = "E2 A2 D3 G3 B3 E4"
first_stroke = "down"
line = "5:5 5:7 5:8 4:5 4:7 4:9 3:5 3:7 3:9 2:6 2:8 2:10 3:9 3:7 3:5 4:9 4:7 4:5"
"#;

/// Hammer-ons and pull-offs between picked notes.
pub(super) const LEGATO: &str = r#"
name = "Picked and slurred"
tempo_bpm = 140
steps_per_beat = 4
beats_per_bar = 4
repeats = 4
tuning = "E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
line = "4:5 4:7h 4:9h 3:5 3:7 3:9h 2:6 2:8h 2:10 2:8p 2:6p 3:9 3:7p 3:5 4:9 4:7p"
"#;

/// Struck together, dead, palm-muted, accented.
pub(super) const MARKS: &str = r#"
name = "Chugs and chords"
tempo_bpm = 140
steps_per_beat = 4
beats_per_bar = 4
repeats = 4
tuning = "E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
line = "6:0>m 6:0m 6:0m 6:3 [5:7 4:7] ~ 6:0x 6:0x 6:0>m 6:0m 5:5 5:7 [4:7 3:7] ~ 6:0x 6:3"
"#;

/// Four strings, an octave down.
pub(super) const BASS: &str = r#"
name = "Bass in pairs"
tempo_bpm = 110
steps_per_beat = 4
beats_per_bar = 4
repeats = 4
tuning = "E1 A1 D2 G2"
picking = "alternate"
first_stroke = "down"
line = "4:3 4:5 3:3 3:5 2:2 2:5 1:2 1:5 2:5 2:2 3:5 3:3"
"#;

/// Nine strings.
pub(super) const NINE: &str = r#"
name = "Nine strings in pairs"
tempo_bpm = 120
steps_per_beat = 4
beats_per_bar = 4
repeats = 2
tuning = "C#1 F#1 B1 E2 A2 D3 G3 B3 E4"
picking = "alternate"
first_stroke = "down"
line = "9:2 9:4 8:2 8:4 7:2 7:4 6:2 6:4 5:2 5:4 4:2 4:4 3:2 3:4 2:3 2:5 1:2 1:5 2:5 2:3 3:4 3:2 4:4 4:2"
"#;
