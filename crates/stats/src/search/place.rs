//! Whether an effect holds across the places of the line, or is that of one note of the line.

use super::Candidates;
use super::fit::{Effect, JointFit};
use crate::bootstrap::members_of;
use crate::dist::t_two_sided;
use crate::moments::{raw_mean, raw_sum_of_squares};

/// The verdict of the place check.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaceCheck {
    /// Number of places with notes of the group.
    pub inside: usize,
    /// Number of places with other notes.
    pub outside: usize,
    /// Smallest two-sided p of the t test on place means (places - 2 degrees of freedom) over the group's terms;
    /// `None` where there are too few places to test.
    pub p: Option<f64>,
    /// Whether p is below 0.05 over the number of findings: the effect may be told as that of the kind of note. If
    /// not, it is that of single notes of the line. With one place inside, kind and place cannot be told apart at all.
    pub holds: bool,
}

/// Checks a found group: for its mean the residuals less all other groups, for its spread the distances from the fit.
pub(crate) fn check_residuals(
    fit: &JointFit,
    values: &[f64],
    candidates: &Candidates,
    effect: &Effect,
    places: &[usize],
    findings: usize,
) -> PlaceCheck {
    let inside = candidates.indicator(effect.set);
    let own = fit.of(effect.set).0.unwrap_or(0.0);
    let rest: Vec<f64> = values.iter().zip(&fit.fitted_mean).map(|(v, m)| v - m).collect();
    let mut tests = Vec::with_capacity(2);
    if effect.mean {
        let shifted: Vec<f64> = rest.iter().zip(&inside).map(|(r, i)| r + own * i).collect();
        tests.push(test(&shifted, &inside, places));
    }
    if effect.spread {
        let distances: Vec<f64> = rest.iter().map(|r| r.abs()).collect();
        tests.push(test(&distances, &inside, places));
    }
    conclude(&tests, &inside, places, findings)
}

/// Chooses the smallest p of the tests made.
pub(crate) fn conclude(tests: &[Option<f64>], inside: &[f64], places: &[usize], findings: usize) -> PlaceCheck {
    let count = |wanted: f64| {
        let mut seen: Vec<usize> = places.iter().zip(inside).filter(|(_, i)| **i == wanted).map(|(p, _)| *p).collect();
        seen.sort_unstable();
        seen.dedup();
        seen.len()
    };
    let p = tests.iter().flatten().copied().reduce(f64::min);
    let level = 0.05 / findings.max(1) as f64;
    PlaceCheck { inside: count(1.0), outside: count(0.0), p, holds: p.is_some_and(|p| p < level) }
}

/// Student's t on the place means, inside against outside (Student 1908). A place with notes on both sides (groups by
/// repeat) gives one mean to each.
pub(crate) fn test(values: &[f64], inside: &[f64], places: &[usize]) -> Option<f64> {
    let keys: Vec<usize> =
        places.iter().zip(inside).map(|(p, i)| p.saturating_mul(2) + usize::from(*i == 1.0)).collect();
    let (mut means_in, mut means_out) = (Vec::new(), Vec::new());
    for members in members_of(&keys) {
        let mean = raw_mean(&members.iter().map(|&k| values[k]).collect::<Vec<_>>());
        if inside[members[0]] == 1.0 { means_in.push(mean) } else { means_out.push(mean) }
    }
    let (a, b) = (means_in.len() as f64, means_out.len() as f64);
    if a < 1.0 || b < 1.0 || a + b < 3.0 {
        return None;
    }
    let df = a + b - 2.0;
    let pooled = (raw_sum_of_squares(&means_in) + raw_sum_of_squares(&means_out)) / df;
    let se = (pooled * (1.0 / a + 1.0 / b)).sqrt();
    let difference = raw_mean(&means_in) - raw_mean(&means_out);
    Some(if se > 0.0 {
        t_two_sided(difference / se, df)
    } else if difference == 0.0 {
        1.0
    } else {
        0.0
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_late_note_of_the_line_is_not_the_whole_kind() {
        // Kind = places 0 to 3 of 12; 10 repeats. Once only place 0 is late by 12, once all four are by 3.
        let places: Vec<usize> = (0..120).map(|k| k % 12).collect();
        let inside: Vec<f64> = places.iter().map(|&p| f64::from(u8::from(p < 4))).collect();
        let mut rng = crate::Seeded::new(5);
        let noise: Vec<f64> = (0..120).map(|_| rng.normal()).collect();
        let late = |by: fn(usize) -> f64| -> Vec<f64> { places.iter().zip(&noise).map(|(&p, n)| by(p) + n).collect() };
        let one = test(&late(|p| if p == 0 { 12.0 } else { 0.0 }), &inside, &places).unwrap();
        let all = test(&late(|p| if p < 4 { 3.0 } else { 0.0 }), &inside, &places).unwrap();
        assert!(one > 0.05 && all < 1e-4, "{one} {all}");
    }

    #[test]
    fn too_few_places_cannot_be_tested() {
        assert_eq!(test(&[1.0, 2.0], &[1.0, 0.0], &[0, 1]), None);
        let c = conclude(&[None], &[1.0, 0.0], &[0, 1], 1);
        assert_eq!((c.inside, c.outside, c.p, c.holds), (1, 1, None, false));
        assert_eq!(test(&[1.0; 4], &[1.0, 0.0, 0.0, 0.0], &[0, 1, 2, 3]), Some(1.0));
    }
}
