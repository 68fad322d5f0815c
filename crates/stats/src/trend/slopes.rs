//! The slopes of all pairs of values. There are n (n - 1) / 2 of them, and only their middle is asked for: they are
//! selected, not sorted.

use std::ops::RangeInclusive;

/// The slopes, those below the median before it, those above behind it.
pub(super) struct Slopes(Vec<f64>);

impl Slopes {
    /// `t` rises strictly; at least two values.
    pub(super) fn of(t: &[f64], y: &[f64]) -> Self {
        let mut slopes = Vec::with_capacity(t.len() * (t.len() - 1) / 2);
        for i in 0..t.len() {
            slopes.extend((i + 1..t.len()).map(|j| (y[j] - y[i]) / (t[j] - t[i])));
        }
        let middle = middle(slopes.len());
        slopes.select_nth_unstable_by(middle, f64::total_cmp);
        if let Some(next) = (middle + 1..slopes.len()).min_by(|a, b| slopes[*a].total_cmp(&slopes[*b])) {
            slopes.swap(middle + 1, next);
        }
        Self(slopes)
    }

    /// Their number.
    pub(super) fn len(&self) -> usize {
        self.0.len()
    }

    pub(super) fn median(&self) -> f64 {
        let n = self.len();
        0.5 * (self.0[middle(n)] + self.0[n / 2])
    }

    /// The slopes in rising order at places `wanted`, counted from 0, and about them as far as the median.
    pub(super) fn sorted(&mut self, wanted: RangeInclusive<usize>) -> Window<'_> {
        let last = self.len() - 1;
        let middle = middle(self.len());
        let (first, end) = ((*wanted.start()).min(middle), (*wanted.end()).clamp(middle, last));
        let (below, above) = self.0.split_at_mut(middle);
        if first < middle {
            below.select_nth_unstable_by(first, f64::total_cmp);
            below[first..].sort_unstable_by(f64::total_cmp);
        }
        above.select_nth_unstable_by(end - middle, f64::total_cmp);
        above[..=end - middle].sort_unstable_by(f64::total_cmp);
        Window { first, slopes: &self.0[first..=end] }
    }
}

fn middle(n: usize) -> usize {
    (n - 1) / 2
}

/// A stretch of the sorted slopes.
pub(super) struct Window<'a> {
    first: usize,
    slopes: &'a [f64],
}

impl Window<'_> {
    /// Between the slopes beside `place`, counted from 0; at the nearer end where it lies outside.
    pub(super) fn at(&self, place: f64) -> f64 {
        let place = (place - self.first as f64).clamp(0.0, (self.slopes.len() - 1) as f64);
        let below = place.floor() as usize;
        let above = (below + 1).min(self.slopes.len() - 1);
        self.slopes[below] + (place - below as f64) * (self.slopes[above] - self.slopes[below])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn selected_slopes_are_those_of_a_full_sort(
            y in prop::collection::vec(-5i8..5, 3..40), low in 0usize..900, more in 0usize..900, part in 0.0f64..1.0,
        ) {
            let y: Vec<f64> = y.into_iter().map(f64::from).collect();
            let t: Vec<f64> = (0..y.len()).map(|k| (k * k + k) as f64).collect();
            let mut slopes = Slopes::of(&t, &y);
            let mut all = slopes.0.clone();
            all.sort_by(f64::total_cmp);
            let n = all.len();
            prop_assert_eq!(slopes.median(), 0.5 * (all[(n - 1) / 2] + all[n / 2]));
            let (low, high) = (low % n, (low % n + more).min(n - 1));
            let window = slopes.sorted(low..=high);
            for k in low..high {
                let wanted = all[k] + part * (all[k + 1] - all[k]);
                prop_assert!((window.at(k as f64 + part) - wanted).abs() < 1e-12);
            }
            // Asked again, the order is still that of a full sort.
            prop_assert_eq!(slopes.sorted(0..=n - 1).slopes.to_vec(), all);
        }
    }
}
