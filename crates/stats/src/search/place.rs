//! Whether an effect holds across the places of the line, or is that of one note of the line.

use super::Candidates;
use super::fit::{Effect, JointFit};
use crate::bootstrap::members_of;
use crate::dist::t_two_sided;
use crate::moments::{raw_mean, raw_sum_of_squares};
use crate::random::Seeded;

/// The verdict of the place check.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaceCheck {
    /// Number of places with notes of the group.
    pub inside: usize,
    /// Number of places with other notes.
    pub outside: usize,
    /// Smallest two-sided p over the group's terms of the t test on place means (places - 2 degrees of freedom), corrected
    /// for the search over all candidates where the group has two places or more; `None` where there are too few to test.
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
    null: &PlaceNull,
    findings: usize,
) -> PlaceCheck {
    let inside = candidates.indicator(effect.set);
    let own = fit.of(effect.set).0.unwrap_or(0.0);
    let rest: Vec<f64> = values.iter().zip(&fit.fitted_mean).map(|(v, m)| v - m).collect();
    let mut tests = Vec::with_capacity(2);
    if effect.mean {
        let shifted: Vec<f64> = rest.iter().zip(&inside).map(|(r, i)| r + own * i).collect();
        tests.push(null.test(&shifted, &inside));
    }
    if effect.spread {
        let distances: Vec<f64> = rest.iter().map(|r| r.abs()).collect();
        tests.push(null.test(&distances, &inside));
    }
    conclude(&tests, &inside, places, findings)
}

/// How large the largest |t| on place means gets over all candidate sets where places merely differ at random: the winner
/// of a search over many sets fits some pattern of places by selection, so that a single t test would pass it too
/// often. |t| has no scale, so normal place means of any size give its distribution.
pub(crate) struct PlaceNull {
    place: Vec<usize>,
    places: usize,
    /// Largest |t| of each draw, rising.
    largest: Vec<f64>,
}

/// Number of draws of place means.
const DRAWS: usize = 1999;

/// A set stands for places if so large a share of the notes agrees with the majority at its place (the first note of a
/// drill, for one, belongs to no change).
const AGREE: f64 = 0.9;

impl PlaceNull {
    pub(crate) fn new(candidates: &Candidates, places: &[usize], seed: u64) -> Self {
        let members = members_of(places);
        let mut place = vec![0; places.len()];
        for (p, notes) in members.iter().enumerate() {
            for &k in notes {
                place[k] = p;
            }
        }
        let mut null = Self { place, places: members.len(), largest: Vec::new() };
        let mut patterns: Vec<Vec<bool>> =
            (0..candidates.sets().len()).filter_map(|s| null.pattern(&candidates.indicator(s))).collect();
        patterns.sort_unstable();
        patterns.dedup();
        let mut rng = Seeded::stream(seed, 1);
        let mut means = vec![0.0; members.len()];
        null.largest = (0..DRAWS)
            .map(|_| {
                means.fill_with(|| rng.normal());
                patterns.iter().filter_map(|p| t_of(&means, p)).fold(0.0, |a, t| t.abs().max(a))
            })
            .collect();
        null.largest.sort_by(f64::total_cmp);
        null
    }

    /// Which places a set stands for; `None` where it does not follow the places or has fewer than two on a side.
    fn pattern(&self, inside: &[f64]) -> Option<Vec<bool>> {
        let mut counts = vec![[0usize; 2]; self.places];
        for (p, i) in self.place.iter().zip(inside) {
            counts[*p][usize::from(*i == 1.0)] += 1;
        }
        let agreeing: usize = counts.iter().map(|c| c[0].max(c[1])).sum();
        let pattern: Vec<bool> = counts.iter().map(|c| c[1] > c[0]).collect();
        let held = pattern.iter().filter(|p| **p).count();
        let follows = agreeing as f64 >= AGREE * inside.len() as f64;
        (follows && held >= 2 && self.places - held >= 2).then_some(pattern)
    }

    /// p of the t test on place means: by the largest |t| where the set follows places, else by Student's t.
    pub(crate) fn test(&self, values: &[f64], inside: &[f64]) -> Option<f64> {
        let Some(pattern) = self.pattern(inside) else { return single_test(values, inside, &self.place) };
        let mut sums = vec![[0.0; 2]; self.places];
        for ((v, i), p) in values.iter().zip(inside).zip(&self.place) {
            if (*i == 1.0) == pattern[*p] {
                sums[*p][0] += v;
                sums[*p][1] += 1.0;
            }
        }
        let means: Vec<f64> = sums.iter().map(|s| s[0] / s[1]).collect();
        let t = t_of(&means, &pattern)?.abs();
        let above = self.largest.len() - self.largest.partition_point(|l| *l < t);
        Some((1 + above) as f64 / (1 + self.largest.len()) as f64)
    }
}

/// Student's t of the place means inside against outside; `None` where they do not scatter.
fn t_of(means: &[f64], pattern: &[bool]) -> Option<f64> {
    let mut s = [[0.0f64; 3]; 2];
    for (m, inside) in means.iter().zip(pattern) {
        let side = &mut s[usize::from(*inside)];
        side[0] += 1.0;
        side[1] += m;
        side[2] += m * m;
    }
    let [outside, inside] = s;
    let about_mean = |s: [f64; 3]| (s[2] - s[1] * s[1] / s[0]).max(0.0);
    let df = inside[0] + outside[0] - 2.0;
    let pooled = (about_mean(inside) + about_mean(outside)) / df;
    let se = (pooled * (1.0 / inside[0] + 1.0 / outside[0])).sqrt();
    (se > 0.0).then(|| (inside[1] / inside[0] - outside[1] / outside[0]) / se)
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
fn single_test(values: &[f64], inside: &[f64], places: &[usize]) -> Option<f64> {
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
        let kind: Vec<usize> = (0..120).filter(|k| k % 12 < 4).collect();
        let null = PlaceNull::new(&Candidates::new(120, &[kind]).unwrap(), &places, 1);
        let one = null.test(&late(|p| if p == 0 { 12.0 } else { 0.0 }), &inside).unwrap();
        let all = null.test(&late(|p| if p < 4 { 3.0 } else { 0.0 }), &inside).unwrap();
        assert!(one > 0.05 && all < 0.002, "{one} {all}");
        // With one candidate the null is Student's t with 10 degrees of freedom: its 95 % point is 2.228.
        let point = null.largest[DRAWS * 19 / 20];
        assert!((point - 2.228).abs() < 0.15, "{point}");
    }

    #[test]
    fn too_few_places_cannot_be_tested() {
        assert_eq!(single_test(&[1.0, 2.0], &[1.0, 0.0], &[0, 1]), None);
        let c = conclude(&[None], &[1.0, 0.0], &[0, 1], 1);
        assert_eq!((c.inside, c.outside, c.p, c.holds), (1, 1, None, false));
        assert_eq!(single_test(&[1.0; 4], &[1.0, 0.0, 0.0, 0.0], &[0, 1, 2, 3]), Some(1.0));
    }
}
