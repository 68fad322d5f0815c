//! Peaks of the flux: where it is the largest for a while around and stands above its surroundings.

use crate::clock::Clock;
use crate::flux::Rise;
use std::collections::VecDeque;

/// A peak is the largest within this distance. Two notes of a brushed change come down to 25 ms; the fastest
/// single-string strokes are 50 ms apart (wrist cycles of 10 Hz: Fujii, Kudo, Ohtsuki & Oda 2009).
const NEIGHBOURS_MS: f64 = 12.5;
/// The surroundings whose mean is taken off.
const SURROUNDINGS_MS: f64 = 100.0;
/// Flux above the surroundings, octaves a band, where the blind threshold lies.
const THRESHOLD: f32 = 0.16;
/// Share of the surroundings' mean that is taken off.
const MEAN_SHARE: f32 = 0.5;
/// Peaks weaker than this share of the threshold are forgotten.
pub(crate) const FAINTEST: f32 = 0.25;

/// A peak of the flux.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Peak {
    /// Where, in frames from the take's start, between frames by a parabola.
    pub(crate) frame: f64,
    /// Height above the surroundings, 1 at the blind threshold.
    pub(crate) strength: f32,
}

/// Finds the peaks of a stream of flux values.
pub(crate) struct Peaks {
    reach: usize,
    surroundings: usize,
    window: VecDeque<f32>,
    next: usize,
}

impl Peaks {
    pub(crate) fn new(clock: Clock) -> Self {
        let surroundings = clock.frames(SURROUNDINGS_MS);
        Self { reach: clock.frames(NEIGHBOURS_MS), surroundings, window: vec![0.0; surroundings].into(), next: 0 }
    }

    /// Frames that must follow a frame before it can be judged.
    pub(crate) fn delay(&self) -> usize {
        self.surroundings
    }

    /// Takes the next flux value; the peak that is thereby certain, if any.
    pub(crate) fn push(&mut self, rise: Rise) -> Option<Peak> {
        self.window.push_back(rise.flux);
        if self.window.len() <= 2 * self.surroundings {
            return None;
        }
        let peak = self.judge();
        self.window.pop_front();
        self.next += 1;
        peak
    }

    fn judge(&self) -> Option<Peak> {
        let (w, c) = (&self.window, self.surroundings);
        let here = w[c];
        let before = w.range(c - self.reach..c).all(|x| *x < here);
        if !before || w.range(c + 1..=c + self.reach).any(|x| *x > here) {
            return None;
        }
        let mean = w.iter().sum::<f32>() / w.len() as f32;
        let strength = (here - MEAN_SHARE * mean) / THRESHOLD;
        let (a, b) = (f64::from(w[c - 1]), f64::from(w[c + 1]));
        let bend = a - 2.0 * f64::from(here) + b;
        let offset = if bend < 0.0 { (0.5 * (a - b) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        (strength >= FAINTEST).then_some(Peak { frame: self.next as f64 + offset, strength })
    }
}
