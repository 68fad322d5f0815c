//! Spectral flux: how much the bands have risen within the last few milliseconds, on a logarithmic scale.
//!
//! After Böck & Widmer (2013), section 2: log-compressed bands, the earlier frame widened by a maximum over
//! neighbouring bands, positive differences summed. Two things differ. The compression has a knee that follows the
//! loudest frame nearby (so the flux does not depend on the take's level), and the sum is a mean over bands (so that
//! it does not depend on how many bands a sample rate has). The unit is octaves of amplitude a band.

use crate::clock::Clock;
use crate::floor::Floor;
use std::collections::VecDeque;

/// The earlier frame that a frame is compared with: long enough for the window to move past an attack.
const LAG_MS: f64 = 10.0;
/// A band's knee, relative to the power of the loudest frame nearby: -50 dB.
const KNEE: f32 = 1e-5;
/// How far "nearby" reaches back and ahead.
const BACK_MS: f64 = 2_000.0;
const AHEAD_MS: f64 = 600.0;

/// Band powers in, flux out, [`Flux::delay`] frames later.
pub(crate) struct Flux {
    bands: usize,
    lag: usize,
    back: usize,
    ahead: usize,
    /// Band powers of the frames from `emitted - lag` on.
    history: VecDeque<f32>,
    received: usize,
    emitted: usize,
    /// Frames (number, power) that are louder than all after them, oldest first.
    loudest: VecDeque<(usize, f32)>,
    floor: Floor,
    scale: Vec<f32>,
    now: Vec<f32>,
    then: Vec<f32>,
}

/// The flux at one frame and what it was measured against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Rise {
    /// Mean rise of a band, octaves of amplitude.
    pub(crate) flux: f32,
    /// Power of the frame.
    pub(crate) power: f32,
}

impl Flux {
    pub(crate) fn new(clock: Clock, bands: usize) -> Self {
        let lag = clock.frames(LAG_MS);
        Self {
            bands,
            lag,
            back: clock.frames(BACK_MS),
            ahead: clock.frames(AHEAD_MS),
            history: vec![0.0; lag * bands].into(),
            received: 0,
            emitted: 0,
            loudest: VecDeque::new(),
            floor: Floor::new(bands, clock.frames(BACK_MS + AHEAD_MS)),
            scale: vec![0.0; bands],
            now: vec![0.0; bands],
            then: vec![0.0; bands],
        }
    }

    /// Takes the next frame's band powers; `each` gets the flux of the frame that thereby has its surroundings.
    pub(crate) fn push(&mut self, powers: &[f32], each: impl FnMut(Rise)) {
        let loud: f32 = powers.iter().sum();
        while self.loudest.back().is_some_and(|l| l.1 <= loud) {
            self.loudest.pop_back();
        }
        self.loudest.push_back((self.received, loud));
        self.floor.push(powers);
        self.history.extend(powers);
        self.received += 1;
        if self.received > self.ahead {
            self.emit(each);
        }
    }

    /// The frames still waiting for what comes after them.
    pub(crate) fn finish(&mut self, mut each: impl FnMut(Rise)) {
        while self.emitted < self.received {
            self.emit(&mut each);
        }
    }

    fn emit(&mut self, mut each: impl FnMut(Rise)) {
        while self.loudest.front().is_some_and(|l| l.0 + self.back < self.emitted) {
            self.loudest.pop_front();
        }
        let knee = self.loudest.front().map_or(0.0, |l| l.1) * KNEE + f32::MIN_POSITIVE;
        let at = self.lag * self.bands;
        let floor = self.floor.powers();
        for (s, f) in self.scale.iter_mut().zip(floor) {
            *s = 1.0 / (knee + f);
        }
        // What was before the recording began is not known: take it to have been no quieter than the noise.
        let then = self.history.range(..self.bands).zip(floor).map(|(p, f)| p.max(*f));
        compress(then, &self.scale, &mut self.then);
        compress(self.history.range(at..at + self.bands).copied(), &self.scale, &mut self.now);
        let power = self.history.range(at..at + self.bands).sum();
        let flux = rise(&self.then, &self.now) / self.bands as f32;
        self.history.drain(..self.bands);
        self.emitted += 1;
        each(Rise { flux, power });
    }
}

/// Octaves of amplitude above the knee (0 well below it); `scale` is one over each band's knee.
fn compress(powers: impl Iterator<Item = f32>, scale: &[f32], out: &mut [f32]) {
    for ((o, p), s) in out.iter_mut().zip(powers).zip(scale) {
        *o = 0.5 * log2(1.0 + (p * s).min(1e30));
    }
}

/// Sum over bands of what `now` stands above the loudest of three neighbouring bands `then`.
fn rise(then: &[f32], now: &[f32]) -> f32 {
    let mut sum = 0.0;
    for (b, y) in now.iter().enumerate() {
        let neighbours = &then[b.saturating_sub(1)..(b + 2).min(then.len())];
        let before = neighbours.iter().fold(0.0f32, |a, x| a.max(*x));
        sum += (y - before).max(0.0);
    }
    sum
}

/// log2 of a number >= 1, within 1e-4: the exponent's bits, and a polynomial for the mantissa (own minimax fit).
fn log2(x: f32) -> f32 {
    let bits = x.to_bits();
    let exponent = (bits >> 23) as i32 - 127;
    let m = f32::from_bits((bits & 0x007f_ffff) | 0x3f80_0000) - 1.0;
    let p = m * (1.4417_8 + m * (-0.7078_9 + m * (0.4148_5 + m * (-0.1934_2 + m * 0.0446_8))));
    exponent as f32 + p
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cheap_logarithm() {
        let mut x = 1.0f32;
        while x < 1e30 {
            assert!((log2(x) - x.log2()).abs() < 1e-4, "{x}: {} {}", log2(x), x.log2());
            x *= 1.003;
        }
    }
}
