//! What the first lines say of takes that are not one steady time through the drill.
#![allow(clippy::unwrap_used, clippy::panic)]

mod support;

use support::{THREE_PER_STRING, drill, scored, scored_as_asked};
use takegauge_pluck::{Pass, Player};
use takegauge_units::{Bpm, Seconds};

fn headline(report: &takegauge_review::ScoreReport) -> String {
    report.summary.headline.join(" ")
}

#[test]
fn a_drill_written_slow_and_played_fast_says_so_and_is_no_finding() {
    let d = drill(THREE_PER_STRING, 80.0, 4);
    let fast = scored(&d, &Player { tempo_factor: 2.0, ..Player::default() });
    assert!(headline(&fast).contains("at 160.") && headline(&fast).contains("The drill is written at 80 bpm"));
    assert!(fast.findings.is_empty(), "{:?}", fast.findings);
    let asked = scored_as_asked(&d, &Player { tempo_factor: 2.0, ..Player::default() }, Some(Bpm(160.0)));
    assert!(!headline(&asked).contains("written at"), "{}", headline(&asked));
    assert_eq!(asked.timebase.asked_tempo_bpm, Some(160.0));
}

#[test]
fn several_times_through_are_counted_and_have_figures_of_their_own() {
    let d = drill(THREE_PER_STRING, 140.0, 2);
    let again = Pass { pause: Seconds(2.0), ..Pass::WHOLE };
    let r = scored(&d, &Player { passes: vec![Pass::WHOLE, again, again], ..Player::default() });
    let told = headline(&r);
    assert!(told.contains("Played 3 times whole. The best of them was pass "), "{told}");
    assert!(told.contains("From the first to the last no change of scatter is shown."), "{told}");
    assert_eq!(r.passes.iter().map(|p| (p.played, p.errors)).collect::<Vec<_>>(), [(68, 0); 3]);
    assert!(r.passes.iter().all(|p| p.scatter_ms.is_some_and(|s| (2.5..6.0).contains(&s))), "{:?}", r.passes);
}

#[test]
fn playing_on_past_the_repeats_is_told_as_that() {
    let d = drill(THREE_PER_STRING, 140.0, 2);
    let on = Pass { first: 0, notes: 20, pause: Seconds(0.0), noodling: 0 };
    let r = scored(&d, &Player { passes: vec![Pass::WHOLE, on], ..Player::default() });
    let told = headline(&r);
    assert!(told.contains("played on past the drill's 2 repeats: 20 notes more"), "{told}");
}
