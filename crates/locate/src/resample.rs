//! A stretch of sound at the estimator's rate.

use crate::tuning::RATE_HZ;
use crate::windowed_sinc::windowed_sinc;

/// Input samples to each side of an output sample, at rates up to the estimator's; more above.
const HALF_WIDTH: f64 = 12.0;
/// The low-pass ends at this share of the lower Nyquist frequency.
const CUTOFF: f64 = 0.95;
/// Shape of the window: 60 dB.
const BETA: f64 = 5.65;
/// Places between two samples for which the filter is at hand: a place is off by at most 1/1024 sample.
const PHASES: usize = 512;

/// Takes windows out of sound at one rate.
#[derive(Debug, Clone)]
pub(crate) struct Resampler {
    rate: f64,
    taps: usize,
    /// The filter at each phase; empty where the rate is the estimator's.
    table: Vec<f32>,
}

impl Resampler {
    pub(crate) fn new(rate: f64) -> Self {
        let rate = if rate.is_finite() && rate > 0.0 { rate } else { RATE_HZ };
        if (rate / RATE_HZ - 1.0).abs() < 1e-9 {
            return Self { rate, taps: 0, table: Vec::new() };
        }
        let step = rate / RATE_HZ;
        let half = (HALF_WIDTH * step.max(1.0)).ceil() as usize;
        let taps = 2 * half;
        let cutoff = CUTOFF / step.max(1.0);
        let table = windowed_sinc((0..=PHASES).map(|p| p as f64 / PHASES as f64), half, cutoff, BETA);
        Self { rate, taps, table }
    }

    pub(crate) fn rate(&self) -> f64 {
        self.rate
    }

    /// `count` samples of the estimator's rate with their middle at `near` or, at its own rate, half a sample off; what
    /// lies outside `sound` and what is not finite is 0. Returns where the middle is.
    pub(crate) fn window(&self, sound: &[f32], near: f64, count: usize, out: &mut Vec<f32>) -> f64 {
        let half = (count as f64 - 1.0) / 2.0;
        let at = |i: i64| {
            usize::try_from(i).ok().and_then(|i| sound.get(i)).copied().filter(|x| x.is_finite()).unwrap_or(0.0)
        };
        out.clear();
        if self.table.is_empty() {
            let first = (near - half).round();
            match usize::try_from(first as i64).ok().and_then(|f| sound.get(f..f + count)) {
                Some(x) => out.extend_from_slice(x),
                None => out.extend((0..count as i64).map(|i| at(first as i64 + i))),
            }
            out.iter_mut().filter(|x| !x.is_finite()).for_each(|x| *x = 0.0);
            return first + half;
        }
        let step = self.rate / RATE_HZ;
        out.extend((0..count).map(|i| {
            let place = near + (i as f64 - half) * step;
            let whole = place.floor();
            let phase = ((place - whole) * PHASES as f64).round() as usize;
            let line = &self.table[phase * self.taps..][..self.taps];
            let first = whole as i64 - (self.taps / 2) as i64 + 1;
            match usize::try_from(first).ok().and_then(|f| sound.get(f..f + self.taps)) {
                Some(x) => dot(line, x),
                None => line.iter().zip(first..).map(|(w, i)| w * at(i)).sum(),
            }
        }));
        near
    }
}

/// Eight running sums; what is not finite makes the sum not finite, and that is silence.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    let ((a8, a_rest), (b8, b_rest)) = (a.as_chunks::<8>(), b.as_chunks::<8>());
    let mut sums = [0.0f32; 8];
    for (a, b) in a8.iter().zip(b8) {
        for i in 0..8 {
            sums[i] += a[i] * b[i];
        }
    }
    let sum = sums.iter().sum::<f32>() + a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum::<f32>();
    if sum.is_finite() { sum } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tone_is_the_same_tone_at_any_rate() {
        let tone = |t: f64| (std::f64::consts::TAU * 1_700.0 * t).sin() as f32;
        for rate in [22_050.0, 24_000.0, 32_000.0, 44_100.0, 48_000.0, 96_000.0, 16_000.0] {
            let sound: Vec<f32> = (0..rate as usize / 2).map(|i| tone(i as f64 / rate)).collect();
            let mut out = Vec::new();
            let near = 0.25 * rate + 0.3;
            let centre = Resampler::new(rate).window(&sound, near, 1_001, &mut out);
            assert!((centre - near).abs() <= 0.5);
            for (i, x) in out.iter().enumerate() {
                let t = centre / rate + (i as f64 - 500.0) / RATE_HZ;
                assert!((x - tone(t)).abs() < 4e-3, "{rate}: {i}: {x} for {}", tone(t));
            }
        }
    }

    #[test]
    fn outside_the_sound_is_silence() {
        let mut out = Vec::new();
        for rate in [22_050.0, 48_000.0, f64::NAN, 0.0] {
            let r = Resampler::new(rate);
            for near in [-1e9, -50.0, 0.0, 60.0, 1e15] {
                r.window(&[1.0, f32::NAN, f32::INFINITY, -1.0], near, 400, &mut out);
                assert!(out.len() == 400 && out.iter().all(|x| x.is_finite()), "{rate} {near}");
            }
        }
    }
}
