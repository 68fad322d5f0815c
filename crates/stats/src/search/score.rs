//! The likelihood ratio of two normals against one, from sums, for all sets at once.

use super::Candidates;

/// Each group's variance is shrunk to the pooled one as if that had been seen on so many more notes.
const PRIOR: f64 = 4.0;

/// Scores sets; holds what does not change from one permutation to the next.
pub(crate) struct Scorer {
    /// For each set the indices of its smaller side (the likelihood ratio is the same from both).
    sides: Vec<Vec<u32>>,
    n: usize,
    /// Value and square of each note, side by side.
    pairs: Vec<[f64; 2]>,
    scores: Vec<f64>,
}

impl Scorer {
    pub(crate) fn new(candidates: &Candidates, open: &[usize], n: usize) -> Self {
        let sides = open
            .iter()
            .map(|&set| {
                let notes = &candidates.sets()[set].notes;
                if 2 * notes.len() <= n {
                    notes.iter().map(|&k| k as u32).collect()
                } else {
                    (0..n).filter(|k| notes.binary_search(k).is_err()).map(|k| k as u32).collect()
                }
            })
            .collect();
        Self { sides, n, pairs: Vec::with_capacity(n), scores: vec![0.0; open.len()] }
    }

    /// The score of each set on `z`, whose mean should be near 0 (sums of squares are taken about 0).
    pub(crate) fn scores(&mut self, z: &[f64]) -> &[f64] {
        self.pairs.clear();
        self.pairs.extend(z.iter().map(|v| [*v, v * v]));
        let whole = self.pairs.iter().fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
        for (score, side) in self.scores.iter_mut().zip(&self.sides) {
            let inside = side.iter().fold([0.0; 2], |s, &k| {
                let p = self.pairs[k as usize];
                [s[0] + p[0], s[1] + p[1]]
            });
            *score = likelihood_ratio(inside, side.len() as f64, whole, self.n as f64);
        }
        &self.scores
    }

    /// The largest score.
    pub(crate) fn largest(&mut self, z: &[f64]) -> f64 {
        self.scores(z).iter().fold(f64::NEG_INFINITY, |a, b| a.max(*b))
    }
}

/// Twice the log likelihood ratio of two normals (means free, variances shrunk to the pooled one) against one.
/// `inside` and `whole` hold sum and sum of squares over `n1` and `n` values.
fn likelihood_ratio(inside: [f64; 2], n1: f64, whole: [f64; 2], n: f64) -> f64 {
    let n2 = n - n1;
    let outside = [whole[0] - inside[0], whole[1] - inside[1]];
    let about_mean = |s: [f64; 2], n: f64| (s[1] - s[0] * s[0] / n).max(0.0);
    let (ss, ss1, ss2) = (about_mean(whole, n), about_mean(inside, n1), about_mean(outside, n2));
    let pooled = (ss1 + ss2) / n;
    // Nothing scatters: two exact values, or one. Bounded so that the score stays a number.
    let floor = 1e-12 * (ss / n) + f64::MIN_POSITIVE;
    let shrunk = |ss: f64, n: f64| ((ss + PRIOR * pooled) / (n + PRIOR)).max(floor);
    let (v1, v2) = (shrunk(ss1, n1), shrunk(ss2, n2));
    n * ((ss / n).max(floor)).ln() + n - n1 * v1.ln() - ss1 / v1 - n2 * v2.ln() - ss2 / v2
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moments::raw_sum_of_squares;

    #[test]
    fn sums_give_what_the_densities_give() {
        let z = [0.3, -1.2, 0.8, 2.0, 1.7, 2.4, -0.5, 0.1];
        let candidates = Candidates::new(8, &[vec![3, 4, 5]]).unwrap();
        let got = Scorer::new(&candidates, &[0], 8).scores(&z)[0];
        let (inside, outside) = candidates.split(&z, 0);
        let mean = |y: &[f64]| y.iter().sum::<f64>() / y.len() as f64;
        let pooled = (raw_sum_of_squares(&inside) + raw_sum_of_squares(&outside)) / 8.0;
        let shrunk = |y: &[f64]| (raw_sum_of_squares(y) + 4.0 * pooled) / (y.len() as f64 + 4.0);
        let minus_twice = |y: &[f64], m: f64, v: f64| y.iter().map(|x| (x - m).powi(2) / v + v.ln()).sum::<f64>();
        let one = minus_twice(&z, mean(&z), raw_sum_of_squares(&z) / 8.0);
        let two = minus_twice(&inside, mean(&inside), shrunk(&inside))
            + minus_twice(&outside, mean(&outside), shrunk(&outside));
        assert!((got - (one - two)).abs() < 1e-12, "{got} {}", one - two);
        // From the other side it is the same.
        let other = Candidates::new(8, &[vec![0, 1, 2, 6, 7]]).unwrap();
        assert!((Scorer::new(&other, &[0], 8).scores(&z)[0] - got).abs() < 1e-12);
    }

    #[test]
    fn equal_values_score_a_number() {
        let candidates = Candidates::new(6, &[vec![0, 1, 2]]).unwrap();
        for z in [[0.0; 6], [1.0, 1.0, 1.0, -1.0, -1.0, -1.0]] {
            assert!(Scorer::new(&candidates, &[0], 6).scores(&z)[0].is_finite());
        }
    }
}
