use super::*;

fn drill(line: &str, more: &str) -> Drill {
    let text =
        format!("name = \"t\"\ntempo_bpm = 150\nsteps_per_beat = 4\ntuning = \"standard\"\nline = \"{line}\"\n{more}");
    Drill::parse(&text, "t.toml").unwrap()
}

fn strokes(line: &str, more: &str) -> String {
    let sign = |s: Option<Stroke>| s.map_or('.', |s| if s == Stroke::Down { 'd' } else { 'u' });
    drill(line, more).grid().iter().map(|n| sign(n.stroke)).collect()
}

fn kinds(line: &str, more: &str) -> Vec<Option<ChangeKind>> {
    drill(line, more).grid().iter().filter_map(|n| n.change).map(|c| c.kind).collect()
}

/// All four cases of strict alternation (common practice, no source).
#[test]
fn outside_and_inside() {
    use ChangeKind::{Inside, Outside};
    assert_eq!(kinds("5:1d 4:1u", ""), [Some(Outside)]);
    assert_eq!(kinds("5:1u 4:1d", ""), [Some(Inside)]);
    assert_eq!(kinds("4:1u 5:1d", ""), [Some(Outside)]);
    assert_eq!(kinds("4:1d 5:1u", ""), [Some(Inside)]);
}

/// Equal strokes (common practice, no source).
#[test]
fn sweep_and_same_stroke() {
    use ChangeKind::{SameStroke, Sweep};
    assert_eq!(kinds("5:1d 4:1d 5:1d 3:1d", ""), [Some(Sweep), Some(SameStroke), Some(SameStroke)]);
    assert_eq!(kinds("4:1u 5:1u", ""), [Some(Sweep)]);
}

/// Runs of two leave on upstrokes only; four then three flip; one a string flips at every note
/// (common practice, no source).
#[test]
fn leaving_strokes() {
    let leaves = |line: &str| -> String {
        let sign = |s: Option<Stroke>| s.map_or('.', |s| if s == Stroke::Down { 'd' } else { 'u' });
        drill(line, "").grid().iter().filter_map(|n| n.change).map(|c| sign(c.leaves_on)).collect()
    };
    assert_eq!(leaves("6:1 6:2 5:1 5:2 4:1 4:2 3:1 3:2"), "uuu");
    assert_eq!(leaves("6:1 6:2 6:3 6:4 5:1 5:2 5:3 4:1 4:2 4:3 4:4 3:1"), "udd");
    assert_eq!(leaves("3:1 2:1 1:1 2:1 3:1"), "dudu");
    assert_eq!(leaves("3:1 3:2h 2:1"), "d");
}

#[test]
fn legato_takes_no_stroke_and_chords_no_kind() {
    assert_eq!(strokes("6:3 6:5h 6:7 6:5p 5:3", ""), "d.u.d");
    assert_eq!(kinds("6:3 6:5h 5:3", ""), [None]);
    assert_eq!(kinds("[6:3 5:5] 4:5", ""), [None]);
}

#[test]
fn economy_sweeps_where_it_may() {
    assert_eq!(strokes("5:3 5:5 5:7 4:4 4:5 4:7", "picking = \"economy\""), "duddud");
    assert_eq!(strokes("5:3 5:5 4:4 4:5", "picking = \"economy\""), "dudu");
    assert_eq!(strokes("5:3 3:5", "picking = \"economy\""), "du");
    assert_eq!(strokes("5:3 3:5 2:1u", "picking = \"down\""), "ddu");
}

#[test]
fn repeats_carry_the_strokes_on() {
    assert_eq!(strokes("6:3 6:5 5:3", "repeats = 2"), "dududu");
    let grid = drill("6:3 6:5 5:3", "repeats = 2").grid();
    let seam = grid[3].change.unwrap();
    assert_eq!((seam.from, seam.to, seam.leaves_on), (5, 6, Some(Stroke::Down)));
    assert_eq!(grid[3].in_run, (0, 2));
    assert_eq!(drill("6:1 6:2 5:1 6:3", "repeats = 2").grid()[4].in_run, (1, 3));
}

#[test]
fn after_gap_rules_differ() {
    let line = "6:1 6:2 6:3 ~ 6:4 - - 6:5 6:6";
    assert_eq!(strokes(line, ""), "dududu");
    assert_eq!(strokes(line, "after_gap = \"hand\""), "duddud");
    assert_eq!(strokes(line, "after_gap = \"restart\""), "dudddu");
    let longer = "6:1 6:2 - 6:3 6:4";
    assert_eq!(strokes(longer, "after_gap = \"hand\""), "duud");
    assert_eq!(strokes(longer, "after_gap = \"restart\""), "dudu");
    // Eighths written as held sixteenths: the hand moves in eighths.
    assert_eq!(strokes("6:1 ~ 6:2 ~ 6:3 ~", "after_gap = \"hand\""), "dud");
    assert_eq!(strokes("6:1 ~ 6:2 ~ 6:3 ~", "after_gap = \"restart\""), "dud");
}

#[test]
fn gaps_stand_against_the_usual_distance() {
    let gaps = |line: &str| -> Vec<bool> { drill(line, "").grid().iter().map(|n| n.after_gap).collect() };
    assert_eq!(gaps("6:1 5:1 - 6:1 5:1"), [false, false, true, false]);
    assert_eq!(gaps("6:1 ~ 5:1 ~ 6:1 ~ ~ 5:1"), [false, false, false, true]);
    assert!(drill("6:1 5:1 - 6:1 5:1", "").grid()[2].change.unwrap().after_gap);
}

#[test]
fn times_with_and_without_swing() {
    let times = |more: &str| -> Vec<f64> {
        let grid = drill("6:1 ~ 6:3 6:4", more).grid();
        grid.iter().map(|n| (n.expected.0 * 1e6).round() / 1e6).collect()
    };
    assert_eq!(times("repeats = 2"), [0.0, 0.2, 0.3, 0.4, 0.6, 0.7]);
    // Two thirds of a pair of 200 ms.
    assert_eq!(times("swing = 60"), [0.0, 0.2, 0.32]);
    let grid = drill("6:1 ~ 6:3 6:4", "swing = 60").grid();
    assert!((grid[1].lasts.0 - 0.12).abs() < 1e-12);
    assert!((grid[2].lasts.0 - 0.08).abs() < 1e-12);
    assert!((grid[0].lasts.0 - 0.2).abs() < 1e-12);
}

#[test]
fn mixed_subdivisions_and_eighth_beats() {
    let times = |line: &str, more: &str| -> Vec<f64> {
        let grid = drill(line, more).grid();
        grid.iter().map(|n| (n.expected.0 * 1e6).round() / 1e6).collect()
    };
    assert_eq!(times("6:1 ~ ~ ~ /2 6:1 6:2 /4 6:1 6:2", ""), [0.0, 0.4, 0.6, 0.8, 0.9]);
    assert_eq!(times("6:1 6:2 6:3", "beat_unit = 8"), [0.0, 0.05, 0.1]);
    // A pickup of one step is the second of its pair.
    assert_eq!(times("6:1 6:2 6:3 6:4", "pickup_steps = 1\nswing = 60"), [0.02, 0.1, 0.22, 0.3]);
}

#[test]
fn pitches_count_the_capo() {
    let grid = drill("6:3 [5:2 4:2]", "capo = 2").grid();
    assert_eq!(grid[0].keys, [takegauge_units::MidiKey(45)]);
    assert_eq!(grid[1].keys.len(), 2);
}
