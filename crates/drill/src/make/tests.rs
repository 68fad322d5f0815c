use super::line::text;
use super::*;
use crate::{ChangeKind, Picking, Stroke, change_counts, leaving};
use proptest::prelude::*;
use takegauge_units::Bpm;

fn made(change: impl FnOnce(&mut MakeOptions)) -> Made {
    let mut options = MakeOptions::new(Scale::parse("A minor").unwrap());
    change(&mut options);
    make(&options).unwrap()
}

#[test]
fn a_scale_in_threes() {
    let made = made(|o| {
        o.direction = Direction::Ascending;
        o.strings = Some((6, 5));
    });
    assert_eq!(text(&made.drill.line), "6:5 6:7 6:8 5:5 5:7 5:8");
    assert_eq!((made.drill.name.as_str(), made.position_shifts), ("A minor", 0));
}

#[test]
fn sequences_skips_and_rolls() {
    let line = |change: fn(&mut MakeOptions)| text(&made(change).drill.line);
    assert_eq!(
        line(|o| {
            o.direction = Direction::Ascending;
            o.strings = Some((6, 5));
            o.notes_a_string = vec![2];
            o.sequence = Some(3);
        }),
        "6:5 6:7 5:5 6:7 5:5 5:7"
    );
    let strings =
        |change: fn(&mut MakeOptions)| -> Vec<u8> { made(change).drill.grid().iter().map(|n| n.string()).collect() };
    assert_eq!(
        strings(|o| {
            o.direction = Direction::Ascending;
            o.notes_a_string = vec![1];
            o.skip = 1;
            o.repeats = 1;
        }),
        [6, 4, 5, 3, 4, 2, 3, 1]
    );
    assert_eq!(
        strings(|o| {
            o.roll = Some(4);
            o.strings = Some((4, 1));
            o.repeats = 1;
        }),
        [4, 3, 2, 1, 2, 3]
    );
}

/// Facts of string changes over made lines (common practice, no source).
#[test]
fn strokes_follow_from_run_lengths() {
    let all = |counts: Vec<u8>| leaving(&made(|o| o.notes_a_string = counts).drill.repeated(1).grid());
    let even = all(vec![2]);
    assert_eq!((even.down, even.up), (0, 10));
    let flips = leaving(
        &made(|o| {
            o.notes_a_string = vec![4, 3];
            o.direction = Direction::Ascending;
        })
        .drill
        .repeated(1)
        .grid(),
    );
    // 4 leave up, 3 more leave down, 4 more down, 3 more up.
    assert_eq!((flips.up, flips.down), (3, 2));
    let ones = made(|o| {
        o.notes_a_string = vec![1];
        o.direction = Direction::Ascending;
        o.repeats = 1;
    });
    let strokes: Vec<_> = ones.drill.grid().iter().filter_map(|n| n.change).map(|c| c.leaves_on).collect();
    assert!(strokes.windows(2).all(|w| w[0] != w[1]));
}

#[test]
fn aims_say_what_they_do() {
    let m = made(|o| o.aim = Some(Aim::Change { from: 3, to: 2 }));
    assert!(m.remarks[0].contains("way back") && text(&m.drill.line).contains('r'), "{m:?}");
    let m = made(|o| o.aim = Some(Aim::LeavesOn(Stroke::Up)));
    assert!(m.remarks[0].contains("hammered"), "{m:?}");
    let m = made(|o| o.aim = Some(Aim::Only(ChangeKind::Inside)));
    assert!(m.remarks.is_empty() || m.remarks[0].contains("position"), "{m:?}");
}

#[test]
fn every_aim_can_be_had_of_a_plain_scale() {
    let kinds = [ChangeKind::Outside, ChangeKind::Inside, ChangeKind::Sweep, ChangeKind::SameStroke];
    let mut aims: Vec<Aim> = kinds.into_iter().map(Aim::Only).collect();
    aims.extend([Aim::LeavesOn(Stroke::Up), Aim::LeavesOn(Stroke::Down), Aim::Change { from: 3, to: 2 }]);
    for aim in aims {
        for count in 1..=3 {
            for direction in [Direction::Ascending, Direction::Descending, Direction::Both] {
                let made = made(|o| {
                    o.aim = Some(aim);
                    o.notes_a_string = vec![count];
                    o.direction = direction;
                });
                assert!(change_counts(&made.drill.grid()).iter().all(|c| aim.meets(&c.change)), "{aim:?}");
            }
        }
    }
}

#[test]
fn options_out_of_range_are_refused() {
    let refused = |change: fn(&mut MakeOptions)| {
        let mut options = MakeOptions::new(Scale::parse("A minor").unwrap());
        change(&mut options);
        assert!(matches!(make(&options), Err(DrillError::Option { .. })), "{options:?}");
    };
    refused(|o| o.position = 25);
    refused(|o| o.notes_a_string = vec![]);
    refused(|o| o.notes_a_string = vec![7]);
    refused(|o| o.strings = Some((1, 6)));
    refused(|o| o.strings = Some((7, 1)));
    refused(|o| o.sequence = Some(5));
    refused(|o| o.roll = Some(6));
    refused(|o| o.skip = 3);
    refused(|o| {
        o.skip = 1;
        o.aim = Some(Aim::Only(ChangeKind::Sweep));
    });
    refused(|o| o.span = 1);
    refused(|o| o.tempo = Bpm(10.0));
    refused(|o| o.steps_per_beat = 0);
    refused(|o| o.repeats = 0);
    refused(|o| o.aim = Some(Aim::Change { from: 3, to: 3 }));
    refused(|o| {
        o.scale = Scale::parse("A major chord").unwrap();
        o.notes_a_string = vec![4];
    });
    refused(|o| {
        o.strings = Some((3, 2));
        o.skip = 2;
    });
}

fn aims() -> impl Strategy<Value = Option<Aim>> {
    prop::sample::select(vec![
        None,
        None,
        Some(Aim::Only(ChangeKind::Outside)),
        Some(Aim::Only(ChangeKind::Inside)),
        Some(Aim::Only(ChangeKind::Sweep)),
        Some(Aim::Only(ChangeKind::SameStroke)),
        Some(Aim::LeavesOn(Stroke::Up)),
        Some(Aim::LeavesOn(Stroke::Down)),
        Some(Aim::Change { from: 3, to: 2 }),
        Some(Aim::Change { from: 2, to: 4 }),
    ])
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3_000, ..ProptestConfig::default() })]
    /// Whatever is asked for: playable, counted right, aimed at nothing but the change asked for, within a second.
    #[test]
    fn all_made_drills_keep_their_promises(
        root in prop::sample::select(vec!["A", "C", "F#", "Bb"]),
        scale in prop::sample::select(SCALES.iter().map(|s| s.0).collect::<Vec<_>>()),
        position in 0u8..=14,
        counts in prop::collection::vec(1u8..=4, 1..4),
        strings in prop::sample::select(vec![None, Some((6, 1)), Some((5, 2)), Some((4, 3)), Some((2, 1))]),
        direction in prop::sample::select(vec![Direction::Ascending, Direction::Descending, Direction::Both]),
        sequence in prop::sample::select(vec![None, None, Some(3u8), Some(4)]),
        skip in prop::sample::select(vec![0u8, 0, 0, 1, 2]),
        roll in prop::sample::select(vec![None, None, None, Some(3u8), Some(4), Some(5)]),
        aim in aims(),
        picking in prop::sample::select(vec![Picking::Alternate, Picking::Economy, Picking::Down, Picking::Written]),
        first in prop::sample::select(vec![Stroke::Down, Stroke::Up]),
        steps_per_beat in 1u8..=6,
    ) {
        let scale = Scale::parse(&format!("{root} {scale}")).unwrap();
        let mut options = MakeOptions::new(scale.clone());
        options.position = position;
        options.notes_a_string = counts.clone();
        options.strings = strings;
        options.direction = direction;
        options.sequence = sequence;
        options.skip = skip;
        options.roll = roll;
        options.aim = aim;
        options.picking = picking;
        options.first_stroke = first;
        options.steps_per_beat = steps_per_beat;
        let made = match make(&options) {
            Ok(made) => made,
            Err(DrillError::Option { .. } | DrillError::NoNotes { .. }) => return Ok(()),
            Err(e) => return Err(TestCaseError::fail(e.to_string())),
        };
        prop_assert!(made.drill.line.len() <= 1_000, "{} steps", made.drill.line.len());
        let grid = made.drill.repeated(2).grid();
        for run in grid.chunk_by(|a, b| a.string() == b.string() && a.repeat == b.repeat && !b.after_gap) {
            let fretted: Vec<u8> = run.iter().map(|n| n.fret()).filter(|f| *f > 0).collect();
            let span = fretted.iter().max().unwrap_or(&0) - fretted.iter().min().unwrap_or(&0);
            prop_assert!(span <= 4, "{}", text(&made.drill.line));
            prop_assert!(run.iter().all(|n| scale.has(n.keys[0])));
        }
        match aim {
            Some(aim) => {
                let counted = change_counts(&grid);
                prop_assert!(!counted.is_empty());
                prop_assert!(counted.iter().all(|c| aim.meets(&c.change)), "{}", text(&made.drill.line));
            }
            None if roll.is_none() && sequence.is_none() && skip == 0 => {
                let (from, to) = options.strings();
                let once: usize = (to..=from).zip(counts.iter().cycle()).map(|(_, n)| usize::from(*n)).sum();
                let times = if direction == Direction::Both { 2 } else { 1 };
                prop_assert_eq!(made.drill.notes_in_line(), once * times);
            }
            None => {}
        }
    }
}
