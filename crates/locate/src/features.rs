//! The sound told frame by frame: levels of bands, and of what past and future do not predict. The form that
//! tests/measure/fit_ear.py (`features`) states; its figures on one window stand in the tests of `weights`.

use crate::dense::{Rows, dense};
use crate::log::ln;
use crate::predict::Predictor;
use crate::tuning::{BINS, ERROR_FILTERS, ERROR_FLOOR, HOP, LEARNT_BEFORE, LEVEL_FLOOR, PREDICTED, TAPS};
use crate::windowed_sinc::bessel_i0;
use fearless_simd::Simd;

/// Taps of the low-pass on each side of the middle one that are not 0.
const SIDE: usize = 8;
/// Shape of its Kaiser window.
const BETA: f64 = 7.0;

/// Samples of a window of `2 * reach` frames.
pub(crate) const fn window_samples(reach: usize) -> usize {
    TAPS + HOP * (2 * reach - 1)
}

/// Channels of a frame with so many filters on the sound itself.
pub(crate) const fn channels(filters: usize) -> usize {
    filters / 2 + PREDICTED.len() * ERROR_FILTERS
}

/// The filters of one net.
#[derive(Debug, Clone, Default)]
pub(crate) struct Filters {
    pub sound: Vec<f32>,
    /// For each rate, on what the past and on what the future does not predict.
    pub errors: Vec<[Vec<f32>; 2]>,
}

/// Buffers, kept from one window to the next.
#[derive(Debug, Clone)]
pub(crate) struct Features {
    /// Frames x channels.
    pub values: Vec<f32>,
    half_band: [f32; SIDE],
    predictor: Predictor,
    levels: Vec<f32>,
    rates: [Vec<f32>; PREDICTED.len()],
    turned: Vec<f32>,
    errors: Vec<f32>,
}

impl Default for Features {
    fn default() -> Self {
        Self {
            values: Vec::new(),
            half_band: half_band(),
            predictor: Predictor::default(),
            levels: Vec::new(),
            rates: Default::default(),
            turned: Vec::new(),
            errors: Vec::new(),
        }
    }
}

impl Features {
    /// Tells `window`, at most 1 high, by `2 * reach` frames; `FILTERS` on the sound.
    #[inline(always)]
    pub(crate) fn tell<S: Simd, const FILTERS: usize, const V: usize>(
        &mut self,
        simd: S,
        window: &[f32],
        reach: usize,
        filters: &Filters,
    ) {
        let (frames, width) = (2 * reach, channels(FILTERS));
        self.values.clear();
        self.values.resize(frames * width, 0.0);
        let rows = Rows { start: 0, stride: HOP, jump: 0, parts: 1, length: TAPS };
        dense::<S, V, 4>(simd, window, rows, frames, &filters.sound, &[], &mut self.levels);
        put::<FILTERS>(&self.levels, LEVEL_FLOOR, 1.5, &mut self.values, width, 0);
        let mut channel = FILTERS / 2;
        for (i, p) in PREDICTED.iter().enumerate() {
            let Some(sides) = filters.errors.get(i) else { return };
            let (lower, higher) = self.rates.split_at_mut(i);
            halve(lower.last().map_or(window, |x| x), &self.half_band, &mut self.turned, &mut higher[0]);
            let sound = &higher[0];
            let hop = HOP >> (i + 1);
            let until = ((reach - BINS) * hop + (TAPS >> (i + 1)) / 2).saturating_sub(LEARNT_BEFORE);
            for (side, weights) in sides.iter().enumerate() {
                let future = side == 1;
                self.turned.clone_from(sound);
                if future {
                    self.turned.reverse();
                }
                self.predictor.errors(&self.turned, until, p.order, &mut self.errors);
                if future {
                    self.errors.reverse();
                }
                let rows = Rows { start: p.begin, stride: hop, jump: 0, parts: 1, length: p.taps };
                dense::<S, 1, 8>(simd, &self.errors, rows, frames, weights, &[], &mut self.levels);
                put::<ERROR_FILTERS>(&self.levels, ERROR_FLOOR, 0.0, &mut self.values, width, channel);
                channel += ERROR_FILTERS / 2;
            }
        }
    }
}

/// Levels of pairs of filters into the channels from `channel` on: a quarter of the logarithm of their power.
#[inline(always)]
fn put<const FILTERS: usize>(filtered: &[f32], floor: f32, add: f32, values: &mut [f32], width: usize, channel: usize) {
    for (frame, out) in filtered.as_chunks::<FILTERS>().0.iter().zip(values.chunks_exact_mut(width)) {
        let mut levels = [0.0f32; FILTERS];
        let half = FILTERS / 2;
        for i in 0..half {
            levels[i] = 0.25 * ln(frame[i] * frame[i] + frame[half + i] * frame[half + i] + floor) + add;
        }
        out[channel..channel + half].copy_from_slice(&levels[..half]);
    }
}

/// The low-pass before a halving: a half-band filter, windowed sinc, of which every second tap but the middle one is 0.
/// Those on one side of the middle, the nearest first.
fn half_band() -> [f32; SIDE] {
    std::array::from_fn(|q| {
        let k = (2 * q + 1) as f64;
        let x = std::f64::consts::PI * k / 2.0;
        let w = (1.0 - (k / (2 * SIDE - 1) as f64).powi(2)).max(0.0);
        (0.5 * x.sin() / x * bessel_i0(BETA * w.sqrt()) / bessel_i0(BETA)) as f32
    })
}

/// Half the rate; sample m stands at sample 2 m. Beyond the ends is silence. `odd` is a buffer.
#[inline(always)]
fn halve(x: &[f32], taps: &[f32; SIDE], odd: &mut Vec<f32>, out: &mut Vec<f32>) {
    let pairs = x.as_chunks::<2>().0;
    odd.clear();
    odd.resize(pairs.len() + 2 * SIDE, 0.0);
    out.clear();
    out.resize(pairs.len(), 0.0);
    for ((pair, odd), out) in pairs.iter().zip(&mut odd[SIDE..]).zip(out.iter_mut()) {
        *odd = pair[1];
        *out = 0.5 * pair[0];
    }
    // Odd sample m lies just after even sample m; sixteen sums at a time stay in registers.
    let (blocks, rest) = out.as_chunks_mut::<16>();
    let done = 16 * blocks.len();
    for (m, out) in blocks.iter_mut().enumerate() {
        let Some(around) = odd[16 * m..].first_chunk::<{ 16 + 2 * SIDE - 1 }>() else { return };
        let mut sums = *out;
        for (q, tap) in taps.iter().enumerate() {
            for i in 0..16 {
                sums[i] += tap * (around[SIDE - 1 - q + i] + around[SIDE + q + i]);
            }
        }
        *out = sums;
    }
    for (m, out) in rest.iter_mut().enumerate() {
        for (q, tap) in taps.iter().enumerate() {
            *out += tap * (odd[done + m + SIDE - 1 - q] + odd[done + m + SIDE + q]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_low_tone_passes_in_place_and_a_high_one_is_gone() {
        let (mut odd, mut out) = (Vec::new(), Vec::new());
        for (f, gain) in [(0.1, 1.0), (0.17, 1.0), (0.33, 0.0), (0.45, 0.0)] {
            let tone = |i: usize| (std::f64::consts::TAU * f * i as f64).sin() as f32;
            let x: Vec<f32> = (0..600).map(tone).collect();
            halve(&x, &half_band(), &mut odd, &mut out);
            assert_eq!(out.len(), 300);
            for (m, y) in out.iter().enumerate().skip(20).take(260) {
                assert!((y - gain * tone(2 * m)).abs() < 2e-3, "{f}: {m}: {y}");
            }
        }
    }
}
