//! Transients: a band of the signal louder than at any moment of the last 20 ms.
//!
//! A sounding string strikes the ear anew once a period, so a step of energy against the moment just before finds
//! every period. The loudest moment of a stretch longer than a period of the lowest string does not.

use crate::bank::{Bank, LANES, Lanes};
use crate::clock::Clock;
use crate::sliding::SlidingMax;
use crate::tuning::flux::{AHEAD_MS, BACK_MS};
use crate::tuning::transient::{BANDS, EDGES_HZ, KNEE, PAST_MS};
use std::collections::VecDeque;

/// Samples in; one value a frame out, 600 ms later: mean rise of a band, octaves.
pub(crate) struct Transient {
    filters: Bank,
    hop: usize,
    filled: usize,
    block: Lanes,
    past: usize,
    ahead: usize,
    /// Largest sample in each band in the blocks from `emitted - past` on.
    history: VecDeque<Lanes>,
    received: usize,
    emitted: usize,
    /// The first block with sound in it.
    first: Option<usize>,
    loudest: SlidingMax,
}

impl Transient {
    pub(crate) fn new(clock: Clock) -> Self {
        let past = clock.frames(PAST_MS);
        Self {
            filters: Bank::new(&EDGES_HZ, clock.transient_rate()),
            hop: clock.hop_transient(),
            filled: 0,
            block: [0.0; LANES],
            past,
            ahead: clock.frames(AHEAD_MS),
            history: vec![[0.0; LANES]; past].into(),
            received: 0,
            emitted: 0,
            first: None,
            loudest: SlidingMax::new(clock.frames(BACK_MS)),
        }
    }

    /// Feeds samples; `each` gets the value of every frame that thereby has its surroundings.
    pub(crate) fn push(&mut self, mut samples: &[f32], mut each: impl FnMut(f32)) {
        while !samples.is_empty() {
            let (now, later) = samples.split_at(samples.len().min(self.hop - self.filled));
            self.filters.run(now, &mut self.block);
            self.filled += now.len();
            samples = later;
            if self.filled == self.hop {
                self.filled = 0;
                let block = std::mem::take(&mut self.block);
                if self.first.is_none() && block.iter().any(|p| *p > 0.0) {
                    self.first = Some(self.received);
                }
                self.loudest.push(block.iter().map(|p| p * p).sum());
                self.history.push_back(block);
                self.received += 1;
                if self.received > self.ahead {
                    each(self.emit());
                }
            }
        }
    }

    /// The next frame that still waits for what comes after it, at the take's end.
    pub(crate) fn drain(&mut self) -> Option<f32> {
        (self.emitted < self.received).then(|| self.emit())
    }

    fn emit(&mut self) -> f32 {
        let knee = self.loudest.around(self.emitted).sqrt() * KNEE + f32::MIN_POSITIVE;
        let mut before = [0.0f32; LANES];
        for block in self.history.range(..self.past) {
            for (b, p) in before.iter_mut().zip(block) {
                *b = b.max(*p);
            }
        }
        let mut now = self.history[self.past];
        if let Some(next) = self.history.get(self.past + 1) {
            for (n, p) in now.iter_mut().zip(next) {
                *n = n.max(*p);
            }
        }
        self.history.pop_front();
        self.emitted += 1;
        // As long as the recording is younger than the past that counts, there is nothing to compare with.
        if self.first.is_none_or(|first| self.emitted <= first + self.past) {
            return 0.0;
        }
        let rises = now.iter().zip(&before).take(BANDS).map(|(n, b)| ((n + knee) / (b + knee)).max(1.0));
        rises.product::<f32>().min(f32::MAX).log2() / BANDS as f32
    }
}
