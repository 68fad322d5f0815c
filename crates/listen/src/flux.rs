//! Spectral flux: how much new partials have risen within the last few milliseconds, on a logarithmic scale.
//!
//! After Böck & Widmer (2013), section 2: log-compressed bands, the earlier frame widened by a maximum over
//! neighbouring bands, positive differences summed. Three things differ. The compression has a knee that follows the
//! loudest frame and the noise nearby, so the flux does not depend on the take's level. A rise counts only as far as
//! the band stands out of its neighbours: a new partial does, the splatter of a break in the signal does not. And the
//! sum is a mean over bands, so that it does not depend on how many bands a sample rate has. The unit is octaves of
//! amplitude a band.

use crate::clock::Clock;
use crate::floor::Floor;
use crate::sliding::SlidingMax;
use crate::tuning::flux::{AHEAD_MS, APART, BACK_MS, KNEE, LAG_MS};
use crate::wide::wide;

/// Band powers in, flux out, 600 ms later.
pub(crate) struct Flux {
    bands: usize,
    lag: usize,
    ahead: usize,
    /// Band powers of the frames from `emitted - lag` on.
    history: Vec<f32>,
    /// Where in `history` the frame `emitted - lag` begins.
    oldest: usize,
    received: usize,
    emitted: usize,
    /// The first frame that lies wholly in the recording, once there is one.
    first_whole: Option<usize>,
    loudest: SlidingMax,
    floor: Floor,
    scale: Vec<f32>,
    now: Vec<f32>,
    then: Vec<f32>,
}

impl Flux {
    pub(crate) fn new(clock: Clock, bands: usize) -> Self {
        let lag = clock.spectra(LAG_MS);
        Self {
            bands,
            lag,
            ahead: clock.spectra(AHEAD_MS),
            history: vec![0.0; lag * bands],
            oldest: 0,
            received: 0,
            emitted: 0,
            first_whole: None,
            loudest: SlidingMax::new(clock.spectra(BACK_MS)),
            floor: Floor::new(bands, clock.spectra(BACK_MS + AHEAD_MS)),
            scale: vec![0.0; bands],
            now: vec![0.0; bands],
            then: vec![0.0; bands],
        }
    }

    /// Takes the next frame's band powers; the flux of the frame that thereby has its surroundings. A frame is
    /// `whole` if the recording had begun before its first sample: the others hold the splatter of the beginning,
    /// and their flux is 0.
    pub(crate) fn push(&mut self, powers: &[f32], whole: bool) -> Option<f32> {
        self.loudest.push(powers.iter().sum());
        if whole {
            self.first_whole.get_or_insert(self.received);
            self.floor.push(powers);
        }
        self.history.extend_from_slice(powers);
        self.received += 1;
        (self.received > self.ahead).then(|| self.emit())
    }

    /// The next frame that still waits for what comes after it, at the take's end.
    pub(crate) fn drain(&mut self) -> Option<f32> {
        (self.emitted < self.received).then(|| self.emit())
    }

    fn emit(&mut self) -> f32 {
        let then = self.oldest..self.oldest + self.bands;
        let now = self.oldest + self.lag * self.bands..self.oldest + (self.lag + 1) * self.bands;
        self.oldest += self.bands;
        self.emitted += 1;
        let flux = if self.first_whole.is_some_and(|first| self.emitted > first) {
            let knee = self.loudest.around(self.emitted - 1) * KNEE + f32::MIN_POSITIVE;
            let floor = self.floor.powers();
            for (s, f) in self.scale.iter_mut().zip(floor) {
                *s = 1.0 / (knee + f);
            }
            // What was before the recording began is not known: take it to have been no quieter than the noise.
            for ((t, p), f) in self.then.iter_mut().zip(&self.history[then]).zip(floor) {
                *t = larger(*p, *f);
            }
            self.now.copy_from_slice(&self.history[now]);
            let Self { then, now, scale, .. } = self;
            wide(
                #[inline(always)]
                || {
                    compress(then, scale);
                    compress(now, scale);
                    rise(then, now)
                },
            ) / self.bands as f32
        } else {
            0.0
        };
        // Let go of what is past in large pieces.
        if self.oldest > self.history.len() / 2 {
            self.history.drain(..self.oldest);
            self.oldest = 0;
        }
        flux
    }
}

/// Powers to octaves of amplitude above the knee (0 well below it); `scale` is one over each band's knee.
#[inline(always)]
fn compress(powers: &mut [f32], scale: &[f32]) {
    for (p, s) in powers.iter_mut().zip(scale) {
        let over = *p * s;
        *p = 0.5 * log2(1.0 + if over < 1e30 { over } else { 1e30 });
    }
}

/// Sum over bands of how far `now` stands above the loudest of three neighbouring bands `then`, but no more than it
/// stands above the lower of the two bands [`APART`] places away.
#[inline(always)]
fn rise(then: &[f32], now: &[f32]) -> f32 {
    let last = now.len().saturating_sub(1);
    let one = |b: usize| {
        let before = larger(larger(then[b], then[b.saturating_sub(1)]), then[(b + 1).min(last)]);
        let beside = smaller(now[b.saturating_sub(APART)], now[(b + APART).min(last)]);
        larger(smaller(now[b] - before, now[b] - beside), 0.0)
    };
    // Eight bands at a time, which vectorises, as far as all neighbours exist.
    let mut sums = [0.0f32; 8];
    let mut b = APART;
    while b + 8 + APART <= now.len() {
        let (low, y, high) = (&now[b - APART..][..8], &now[b..][..8], &now[b + APART..][..8]);
        let (t0, t1, t2) = (&then[b - 1..][..8], &then[b..][..8], &then[b + 1..][..8]);
        for i in 0..8 {
            let before = larger(larger(t0[i], t1[i]), t2[i]);
            sums[i] += larger(smaller(y[i] - before, y[i] - smaller(low[i], high[i])), 0.0);
        }
        b += 8;
    }
    let edges: f32 = (0..APART.min(now.len())).chain(b.min(now.len())..now.len()).map(one).sum();
    edges + sums.iter().sum::<f32>()
}

// Plain comparisons become single vector instructions; `f32::max` and `min` must mind NaN, which no power here is.
#[inline(always)]
fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

#[inline(always)]
fn smaller(a: f32, b: f32) -> f32 {
    if a < b { a } else { b }
}

/// log2 of a number >= 1, within 3e-4: the exponent's bits, and a polynomial for the mantissa (own minimax fit).
#[inline(always)]
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
            assert!((log2(x) - x.log2()).abs() < 3e-4, "{x}: {} {}", log2(x), x.log2());
            x *= 1.003;
        }
    }

    #[test]
    fn a_new_partial_counts_and_a_raised_plain_does_not() {
        let quiet = [1.0f32; 20];
        let mut partial = quiet;
        partial[9] = 3.0;
        assert_eq!(rise(&quiet, &partial), 2.0);
        let mut splatter = [3.0f32; 20];
        splatter[0] = 3.0;
        assert_eq!(rise(&quiet, &splatter), 0.0);
    }
}
