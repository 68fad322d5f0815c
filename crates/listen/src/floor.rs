//! The noise floor of every band: the quietest moment nearby.

use crate::tuning::flux::{MEAN_OVER_QUIETEST, MOMENT_FRAMES};

/// Per band, the least mean power of any moment within the last `span` frames. Moments are counted from the first
/// frame given; silent moments (edited takes) do not count.
pub(crate) struct Floor {
    bands: usize,
    span: usize,
    /// For each moment of the older ones, oldest last: the least of it and of the older ones after it.
    older: Vec<Vec<f32>>,
    /// The moments since, and the least of them.
    newer: Vec<Vec<f32>>,
    newer_least: Vec<f32>,
    sum: Vec<f32>,
    summed: usize,
    floor: Vec<f32>,
}

impl Floor {
    pub(crate) fn new(bands: usize, span: usize) -> Self {
        Self {
            bands,
            span: span.div_ceil(MOMENT_FRAMES),
            older: Vec::new(),
            newer: Vec::new(),
            newer_least: vec![f32::INFINITY; bands],
            sum: vec![0.0; bands],
            summed: 0,
            floor: vec![0.0; bands],
        }
    }

    pub(crate) fn push(&mut self, powers: &[f32]) {
        for (s, p) in self.sum.iter_mut().zip(powers) {
            *s += p;
        }
        self.summed += 1;
        if self.summed < MOMENT_FRAMES {
            return;
        }
        self.summed = 0;
        if self.older.len() + self.newer.len() >= self.span {
            self.forget_oldest();
        }
        let mut finished = std::mem::replace(&mut self.sum, vec![0.0; self.bands]);
        if finished.iter().all(|p| *p <= 0.0) {
            finished.fill(f32::INFINITY);
        }
        lower(&mut self.newer_least, &finished);
        self.newer.push(finished);
        self.floor.copy_from_slice(&self.newer_least);
        if let Some(least) = self.older.last() {
            lower(&mut self.floor, least);
        }
        let scale = MEAN_OVER_QUIETEST / MOMENT_FRAMES as f32;
        self.floor.iter_mut().for_each(|f| *f = if f.is_finite() { *f * scale } else { 0.0 });
    }

    /// Drops the oldest moment. When the older ones are used up, the newer ones take their place, each with the least
    /// of itself and all after it, so that a moment costs three passes over the bands however many it is compared with.
    fn forget_oldest(&mut self) {
        if self.older.is_empty() {
            let mut least = vec![f32::INFINITY; self.bands];
            while let Some(mut moment) = self.newer.pop() {
                lower(&mut moment, &least);
                least.copy_from_slice(&moment);
                self.older.push(moment);
            }
            self.newer_least.fill(f32::INFINITY);
        }
        self.older.pop();
    }

    /// Mean noise power of each band, as far as it can be told; 0 before the first moment is over.
    pub(crate) fn powers(&self) -> &[f32] {
        &self.floor
    }
}

/// Lowers each of `a` to the number of `b` in its place, if that is less.
fn lower(a: &mut [f32], b: &[f32]) {
    for (a, b) in a.iter_mut().zip(b) {
        *a = if b < a { *b } else { *a };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn is_the_least_of_the_moments_in_the_span() {
        let (bands, span) = (3, 7 * MOMENT_FRAMES);
        let mut floor = Floor::new(bands, span);
        let mut moments: Vec<Vec<f32>> = Vec::new();
        for m in 0..60usize {
            let silent = m % 11 == 4;
            let moment: Vec<f32> =
                (0..bands).map(|b| if silent { 0.0 } else { 1.0 + ((m * 7919 + b * 131) % 101) as f32 }).collect();
            (0..MOMENT_FRAMES).for_each(|_| floor.push(&moment));
            moments.push(moment);
            for b in 0..bands {
                let heard = moments[moments.len().saturating_sub(7)..].iter().map(|x| x[b]).filter(|p| *p > 0.0);
                let plain = MEAN_OVER_QUIETEST * heard.fold(f32::INFINITY, f32::min);
                assert!((floor.powers()[b] - plain).abs() < 1e-4 * plain, "moment {m}, band {b}");
            }
        }
    }
}
