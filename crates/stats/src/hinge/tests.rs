//! Simulated ladders.

use super::*;

const TEMPOS: [f64; 10] = [100.0, 112.0, 124.0, 136.0, 148.0, 160.0, 172.0, 184.0, 196.0, 208.0];

struct Ladder {
    group: Vec<Vec<f64>>,
    reference: Vec<Vec<f64>>,
}

/// `n` notes a tempo; from `hinge` on the bias runs off by `bias` and the spread by `spread` base spreads a bpm.
fn play(rng: &mut Seeded, n: usize, hinge: f64, bias: f64, spread: f64) -> Ladder {
    let mut take = |b: f64, s: f64, n: usize| {
        TEMPOS
            .iter()
            .map(|t| {
                let beyond = (t - hinge).max(0.0);
                (0..n).map(|_| b * beyond + 4.0 * (1.0 + s * beyond) * rng.normal()).collect()
            })
            .collect()
    };
    Ladder { group: take(bias, spread, n), reference: take(0.0, 0.0, 3 * n) }
}

fn view(l: &Ladder) -> LadderGroup<'_> {
    LadderGroup {
        group: l.group.iter().map(Vec::as_slice).collect(),
        reference: l.reference.iter().map(Vec::as_slice).collect(),
    }
}

fn find(ladders: &[Ladder], permutations: usize) -> Vec<Hinge> {
    let groups: Vec<LadderGroup> = ladders.iter().map(view).collect();
    find_hinges(Sample::new(&TEMPOS).unwrap(), &groups, permutations, 1).unwrap()
}

#[test]
fn a_group_that_comes_apart_is_found_where_it_does_and_another_is_not() {
    let mut rng = Seeded::new(40);
    let (runs, mut held, mut squared, mut found, mut other) = (60, 0, 0.0, 0, 0);
    for _ in 0..runs {
        let ladders = [play(&mut rng, 16, 160.0, 0.3, 0.05), play(&mut rng, 16, 160.0, 0.0, 0.0)];
        let h = find(&ladders, 99);
        held += u32::from(h[0].tempo.interval.holds(160.0));
        squared += (h[0].tempo.value - 160.0).powi(2) / f64::from(runs);
        found += u32::from(h[0].p_adjusted <= 0.05 && h[0].spread_ratio_at_top > 1.5);
        other += u32::from(h[1].p_adjusted <= 0.05);
    }
    assert!(found >= 54 && other <= 9, "found {found}, other {other} of {runs}");
    // Nominally 57 of 60; four standard errors of 1.7 below. Root mean square error about 6 to 9 bpm at 16 notes.
    assert!(held >= 52 && squared.sqrt() < 12.0, "held {held}, off by {:.1}", squared.sqrt());
}

#[test]
fn level_groups_are_seldom_said_to_come_apart() {
    let mut rng = Seeded::new(9);
    let runs = 100;
    let alarms = (0..runs)
        .filter(|_| {
            let ladders = [play(&mut rng, 12, 0.0, 0.0, 0.0), play(&mut rng, 12, 0.0, 0.0, 0.0)];
            find(&ladders, 99).iter().any(|h| h.p_adjusted <= 0.05)
        })
        .count();
    // 5 of 100, four standard errors of 2.2 above.
    assert!(alarms <= 13, "{alarms} of {runs}");
}

#[test]
fn a_hinge_below_the_lowest_tempo_is_said_not_to_be_bracketed() {
    let ladders = [play(&mut Seeded::new(3), 24, 70.0, 0.5, 0.05)];
    let h = find(&ladders, 199)[0];
    assert!(!h.bracketed && h.p_adjusted <= 0.05, "{h:?}");
}

#[test]
fn sums_give_the_likelihood_that_notes_give() {
    let ladder = play(&mut Seeded::new(5), 6, 150.0, 0.4, 0.03);
    let c = cells(&view(&ladder), 10).unwrap();
    let l = at_hinge(&TEMPOS, &c, 150.0, 2.0);
    let mut total = 0.0;
    for (k, t) in TEMPOS.iter().enumerate() {
        let beyond = ((t - 150.0) / 58.0f64).max(0.0);
        let sd = l.spread * c[k].log_scale.exp() * (1.0 + beyond);
        let expected = l.bias + l.slope * beyond + raw_mean(&ladder.reference[k]);
        total += ladder.group[k].iter().map(|v| -sd.ln() - 0.5 * ((v - expected) / sd).powi(2)).sum::<f64>();
    }
    // The profile leaves out -n/2.
    assert!((total + 30.0 - l.log_likelihood).abs() < 1e-9, "{total} {}", l.log_likelihood);
}

#[test]
fn mistakes_are_errors() {
    let ladder = play(&mut Seeded::new(1), 8, 150.0, 0.0, 0.0);
    let g = [view(&ladder)];
    let x = Sample::new(&TEMPOS).unwrap();
    assert!(find_hinges(Sample::new(&TEMPOS[..4]).unwrap(), &g, 9, 1).is_err());
    assert!(find_hinges(x, &g, 0, 1).is_err());
    assert!(find_hinges(Sample::new(&[1.0; 10]).unwrap(), &g, 9, 1).is_err());
    assert!(find_hinges(Sample::new(&TEMPOS[..9]).unwrap(), &g, 9, 1).is_err());
    let flat = vec![vec![0.0; 5]; 10];
    let same = LadderGroup { group: flat.iter().map(Vec::as_slice).collect(), reference: g[0].reference.clone() };
    assert_eq!(find_hinges(x, &[same], 9, 1), Err(StatsError::NoSpread));
}
