//! What holds of every alignment, whatever was played.

#![allow(clippy::unwrap_used)] // a test may fail by unwrapping

mod common;

use common::*;
use proptest::prelude::*;
use std::collections::BTreeSet;
use takegauge_align::{Alignment, Status};
use takegauge_drill::Drill;

fn any_drill() -> impl Strategy<Value = Drill> {
    (0..every_kind().len()).prop_map(|k| every_kind().swap_remove(k))
}

/// Order kept, no attack used twice, statuses and times complete, nothing infinite.
fn well_formed(alignment: &Alignment, drill: &Drill, attacks: usize) {
    let mut used = BTreeSet::new();
    for pass in &alignment.passes {
        assert_eq!(pass.notes.len(), drill.grid().len());
        assert!(pass.notes.iter().enumerate().all(|(i, n)| n.index == i));
        let taken: Vec<usize> = pass.notes.iter().filter_map(|n| n.attack).collect();
        assert!(taken.windows(2).all(|w| w[0] < w[1]) && taken.iter().all(|a| *a < attacks));
        assert!(taken.iter().all(|a| used.insert(*a)), "an attack is two notes");
        for n in &pass.notes {
            let heard = matches!(n.status, Status::Played | Status::WrongPitch);
            assert_eq!(heard, n.attack.is_some());
            assert!(heard == n.played.is_some() && heard == n.uncertainty.is_some());
            assert!(n.expected.0.is_finite());
        }
        let (first, last) = reached(pass);
        assert!(pass.notes[first..=last].iter().all(|n| n.status != Status::NotReached));
        assert!(pass.tempo.0.is_finite() && pass.tempo.0 > 0.0 && pass.from.0 <= pass.to.0);
    }
    assert!(alignment.extra.iter().all(|e| used.insert(e.attack) && e.pass < alignment.passes.len()));
    assert!(alignment.passes.windows(2).all(|w| w[0].to.0 < w[1].from.0));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn an_exact_take_deviates_nowhere(drill in any_drill(), start in 0.1f64..20.0, tempo in 60.0f64..240.0) {
        let mut player = Player::new(1);
        player.play(&drill, 0..drill.grid().len(), start, tempo, Faults::default());
        let alignment = player.align(&drill).unwrap();
        prop_assert_eq!(alignment.passes.len(), 1);
        prop_assert!(alignment.extra.is_empty() && alignment.set_aside.is_empty());
        let pass = &alignment.passes[0];
        prop_assert_eq!(disagreements(pass, &player.passes[0]).0, 0);
        prop_assert!((pass.tempo.0 / tempo - 1.0).abs() < 1e-6);
        for n in pass.notes.iter().filter(|n| n.status == Status::Played) {
            prop_assert!((n.played.unwrap().0 - n.expected.0).abs() < 1e-6);
        }
    }

    #[test]
    fn every_answer_is_well_formed(
        drill in any_drill(),
        seed in 0u64..1_000,
        missed in 0.0f64..0.4,
        extra in 0.0f64..0.4,
        wrong in 0.0f64..0.3,
        noodles in 0usize..60,
    ) {
        let mut player = Player::new(seed);
        let time = player.noodle(&drill, 0.2, noodles, 8.0) + 0.5;
        let faults = Faults { missed, extra, wrong, ..tidy() };
        let time = player.play(&drill, 0..drill.grid().len(), time, 150.0, faults);
        player.noodle(&drill, time + 0.1, noodles, 8.0);
        // A take too poor to be told from noodling may be refused; what is answered must be whole.
        if let Ok(alignment) = player.align(&drill) {
            well_formed(&alignment, &drill, player.attacks.len());
            prop_assert_eq!(&Ok(alignment), &player.align(&drill));
        }
    }
}
