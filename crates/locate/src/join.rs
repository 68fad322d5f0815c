//! Evidence of several looks at one place, joined.

use crate::tuning::{BIN_MS, BINS, LOOKS_WORTH, OTHER_SPEEDS};
use takegauge_units::Millis;

/// The sum of the looks' log-evidence on the frames of the first one.
pub(crate) struct Join {
    sums: Vec<f32>,
}

impl Join {
    /// From the logits of the first look: those of the frames and that of "no attack".
    pub(crate) fn new(first: &[f32]) -> Self {
        Self { sums: normalised(first).collect() }
    }

    /// Adds a look at sound that went by `speed` times as slowly, the middle of whose window lies so long before that of
    /// the first.
    pub(crate) fn add(&mut self, logits: &[f32], speed: f64, before: Millis) {
        let bins: Vec<f32> = normalised(logits).collect();
        let middle = (2 * BINS - 1) as f64 / 2.0;
        for (i, sum) in self.sums.iter_mut().enumerate() {
            let after = (i as f64 - middle) * BIN_MS + before.0;
            let place = (middle + after * speed / BIN_MS).clamp(0.0, (2 * BINS - 1) as f64);
            let (whole, share) = (place as usize, place.fract() as f32);
            let at = |i: usize| bins.get(i.min(2 * BINS - 1)).copied().unwrap_or(0.0);
            *sum += at(whole) + share * (at(whole + 1) - at(whole));
        }
    }

    /// The joined logits: so many looks at the same sound err alike, and count as [`LOOKS_WORTH`]. That of "no attack" is
    /// left out.
    pub(crate) fn finish(self, out: &mut Vec<f32>) {
        let weight = (LOOKS_WORTH / (1 + OTHER_SPEEDS.len()) as f64) as f32;
        out.clear();
        out.extend(self.sums.iter().map(|s| weight * s));
    }
}

/// The frames' logits, the highest being 0.
fn normalised(logits: &[f32]) -> impl Iterator<Item = f32> {
    let bins = &logits[..logits.len().min(2 * BINS)];
    let most = bins.iter().fold(f32::NEG_INFINITY, |m, l| m.max(*l));
    bins.iter().map(move |l| l - most)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Evidence for a place, ms after the middle, as a look at this speed has it.
    fn look(at: f64, speed: f64) -> Vec<f32> {
        let middle = (2 * BINS - 1) as f64 / 2.0;
        let bin = |i: usize| ((i as f64 - middle) * BIN_MS / speed - at) / 0.5;
        (0..2 * BINS).map(|i| (-0.5 * bin(i).powi(2)) as f32).chain([-9.0]).collect()
    }

    #[test]
    fn looks_at_other_speeds_agree_on_the_place() {
        for at in [-9.3, 0.0, 4.7] {
            let mut join = Join::new(&look(at, 1.0));
            join.add(&look(at - 0.2, 0.93), 0.93, Millis(-0.2));
            join.add(&look(at + 0.1, 1.07), 1.07, Millis(0.1));
            let mut joined = Vec::new();
            join.finish(&mut joined);
            let best = (0..2 * BINS).max_by(|a, b| joined[*a].total_cmp(&joined[*b])).unwrap();
            let middle = (2 * BINS - 1) as f64 / 2.0;
            assert!(((best as f64 - middle) * BIN_MS - at).abs() <= 0.51 * BIN_MS, "{at}: {best}");
            // A quarter of the evidence's width away, it is worth LOOKS_WORTH looks.
            let first = look(at, 1.0);
            let fall = |l: &[f32]| f64::from(l[best] - l[best + 4]);
            let times = fall(&joined) / fall(&first);
            assert!((times / LOOKS_WORTH - 1.0).abs() < 0.15, "{at}: {times}");
        }
    }

    #[test]
    fn nothing_and_nonsense_are_no_panic() {
        for logits in [vec![], vec![f32::NAN; 2 * BINS + 1], vec![0.0; 3]] {
            let mut join = Join::new(&logits);
            join.add(&logits, 1.07, Millis(f64::NAN));
            let mut joined = Vec::new();
            join.finish(&mut joined);
            assert!(joined.len() <= 2 * BINS);
        }
    }
}
