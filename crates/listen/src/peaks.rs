//! Peaks of the flux: where it is the largest for a while around and stands above its surroundings.

use crate::clock::Clock;
use crate::tuning::peaks::{
    FLUX_LATE_MS, FLUX_SD_MS, LEAST, MEAN_SHARE, NEIGHBOURS_MS, NO_TRANSIENT, SURROUNDINGS_MS, TRANSIENT_REACH_MS,
};
use std::collections::VecDeque;

/// A peak of the flux.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Peak {
    /// Where, in frames from the take's start.
    pub(crate) frame: f64,
    /// Height of the flux above its surroundings, octaves a band.
    pub(crate) rise: f32,
    /// Largest transient near it, octaves a band.
    pub(crate) transient: f32,
}

/// Finds the peaks of a stream of flux values.
pub(crate) struct Peaks {
    reach: usize,
    surroundings: usize,
    late: f64,
    transient_reach: usize,
    /// exp(-d^2 / 2 sd^2) is written as `fade`^(d^2), d in frames.
    fade: f64,
    flux: VecDeque<f32>,
    transient: VecDeque<f32>,
    next: usize,
}

impl Peaks {
    pub(crate) fn new(clock: Clock) -> Self {
        let surroundings = clock.frames(SURROUNDINGS_MS);
        let frame_ms = 1e3 * clock.hop_samples() as f64 / clock.rate;
        Self {
            reach: clock.frames(NEIGHBOURS_MS),
            surroundings,
            late: FLUX_LATE_MS / frame_ms,
            transient_reach: clock.frames(TRANSIENT_REACH_MS),
            fade: (-0.5 * (frame_ms / FLUX_SD_MS).powi(2)).exp(),
            flux: vec![0.0; surroundings].into(),
            transient: vec![0.0; surroundings].into(),
            next: 0,
        }
    }

    /// Frames that must follow a frame before it can be judged.
    pub(crate) fn delay(&self) -> usize {
        self.surroundings
    }

    /// Takes the next frame's flux and transient; the peak that is thereby certain, if any.
    pub(crate) fn push(&mut self, flux: f32, transient: f32) -> Option<Peak> {
        self.flux.push_back(flux);
        self.transient.push_back(transient);
        if self.flux.len() <= 2 * self.surroundings {
            return None;
        }
        let peak = self.peak_at_center();
        self.flux.pop_front();
        self.transient.pop_front();
        self.next += 1;
        peak
    }

    /// Frames judged so far: no peak that is still to come lies more than the reach of a transient before it.
    pub(crate) fn judged(&self) -> f64 {
        self.next as f64
    }

    fn peak_at_center(&self) -> Option<Peak> {
        let (w, c) = (&self.flux, self.surroundings);
        let here = w[c];
        let before = w.range(c - self.reach..c).all(|x| *x < here);
        if !before || w.range(c + 1..=c + self.reach).any(|x| *x > here) {
            return None;
        }
        let mean = w.iter().sum::<f32>() / w.len() as f32;
        let rise = here - MEAN_SHARE * mean;
        if rise < LEAST {
            return None;
        }
        // The block that holds the transient, as far as the flux allows it; its middle is the place.
        let expected = c as f64 - self.late;
        let mut place = (f64::MIN, expected);
        let mut transient = 0.0f32;
        for i in c - self.transient_reach..=c + self.transient_reach {
            let d = i as f64 + 0.5 - expected;
            transient = transient.max(self.transient[i]);
            let weight = (f64::from(self.transient[i]) + NO_TRANSIENT) * self.fade.powf(d * d);
            if weight > place.0 {
                place = (weight, i as f64 + 0.5);
            }
        }
        let frame = (self.next as f64 + place.1 - c as f64).max(0.0);
        Some(Peak { frame, rise, transient })
    }
}
