//! The noise floor of every band: the quietest moment nearby.

use std::collections::VecDeque;

/// A moment is this many frames; its mean power is what counts. Longer than the analysis window, so that it holds
/// independent looks at the noise; shorter than the gaps between fast notes.
const MOMENT_FRAMES: usize = 5;
/// How much larger the mean of noise is than its quietest moment out of some fifty to a hundred (own simulation with
/// white noise, half-overlapped Hann frames: 3 to 6).
const MEAN_OVER_QUIETEST: f32 = 4.0;

/// Per band, the least mean power of any moment within the last `span` frames. Moments are counted from the first
/// frame given; silent moments (edited takes) do not count.
pub(crate) struct Floor {
    bands: usize,
    span: usize,
    moments: VecDeque<Vec<f32>>,
    sum: Vec<f32>,
    summed: usize,
    floor: Vec<f32>,
}

impl Floor {
    pub(crate) fn new(bands: usize, span: usize) -> Self {
        Self {
            bands,
            span: span.div_ceil(MOMENT_FRAMES),
            moments: VecDeque::new(),
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
        if self.moments.len() >= self.span {
            self.moments.pop_front();
        }
        let finished = std::mem::replace(&mut self.sum, vec![0.0; self.bands]);
        self.moments.push_back(finished);
        self.floor.fill(f32::INFINITY);
        for m in &self.moments {
            if m.iter().any(|p| *p > 0.0) {
                for (f, p) in self.floor.iter_mut().zip(m) {
                    *f = f.min(*p);
                }
            }
        }
        let scale = MEAN_OVER_QUIETEST / MOMENT_FRAMES as f32;
        self.floor.iter_mut().for_each(|f| *f = if f.is_finite() { *f * scale } else { 0.0 });
    }

    /// Mean noise power of each band, as far as it can be told; 0 before the first moment is over.
    pub(crate) fn powers(&self) -> &[f32] {
        &self.floor
    }
}
