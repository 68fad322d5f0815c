//! Halving the sample rate, as often as asked.
//!
//! Each stage is a half-band filter (every second tap but the middle one is zero) that keeps every second sample.
//! Output sample m stands at input sample m * 2^stages: the delay is taken off, so times carry over exactly.

use crate::wide::wide;

/// Taps that are not zero on either side of the middle one.
const SIDE: usize = 8;
const TAPS: usize = 2 * SIDE;

/// One halving; its output does not depend on how the input is cut into blocks.
struct Stage {
    taps: [f32; TAPS],
    /// Input samples of even and odd number not yet used up: `even[0]` belongs to the next output, `odd[0]` lies
    /// under its first tap.
    even: Vec<f32>,
    odd: Vec<f32>,
    next_is_odd: bool,
}

impl Stage {
    fn new() -> Self {
        // Windowed sinc at a quarter of the input rate, Hamming (stop band -53 dB): 0.5 sinc(k / 2), odd k only.
        let mut taps = [0.0f64; TAPS];
        for (i, t) in taps.iter_mut().enumerate() {
            let k = 2.0 * (i as f64 - SIDE as f64) + 1.0;
            let x = std::f64::consts::PI * k / 2.0;
            *t = 0.5 * x.sin() / x * (0.54 + 0.46 * (std::f64::consts::PI * k / (2 * SIDE + 1) as f64).cos());
        }
        // Tone 0 passes unchanged: the middle tap is one half, so the others sum to one half.
        let sum: f64 = taps.iter().sum();
        let taps = taps.map(|t| (t * 0.5 / sum) as f32);
        // Zeros before the first sample.
        Self { taps, even: Vec::new(), odd: vec![0.0; SIDE], next_is_odd: false }
    }

    fn push(&mut self, mut input: &[f32], out: &mut Vec<f32>) {
        if self.next_is_odd
            && let [first, rest @ ..] = input
        {
            self.odd.push(*first);
            self.next_is_odd = false;
            input = rest;
        }
        let (pairs, last) = input.as_chunks::<2>();
        self.even.extend(pairs.iter().map(|p| p[0]));
        self.odd.extend(pairs.iter().map(|p| p[1]));
        if let [last] = last {
            self.next_is_odd = true;
            self.even.push(*last);
        }
        let n = self.even.len().min((self.odd.len() + 1).saturating_sub(TAPS));
        let start = out.len();
        out.extend(self.even[..n].iter().map(|middle| 0.5 * middle));
        let Self { taps, odd, .. } = self;
        wide(
            #[inline(always)]
            || filter(taps, odd, &mut out[start..]),
        );
        self.even.drain(..n);
        self.odd.drain(..n);
    }
}

/// Adds the filtered samples to `out`, eight at a time: so the loop vectorises, and each sum runs in the same order
/// wherever its sample lies in a block. The taps are symmetric.
#[inline(always)]
fn filter(taps: &[f32; TAPS], samples: &[f32], out: &mut [f32]) {
    let (eights, rest) = out.as_chunks_mut::<8>();
    let done = 8 * eights.len();
    for (m, y) in eights.iter_mut().enumerate() {
        let Some(x) = samples[8 * m..].first_chunk::<{ 8 + TAPS - 1 }>() else { return };
        let mut sums = *y;
        for k in 0..SIDE {
            for i in 0..8 {
                sums[i] += taps[k] * (x[k + i] + x[TAPS - 1 - k + i]);
            }
        }
        *y = sums;
    }
    for (m, y) in rest.iter_mut().enumerate() {
        let x = &samples[done + m..][..TAPS];
        for k in 0..SIDE {
            *y += taps[k] * (x[k] + x[TAPS - 1 - k]);
        }
    }
}

/// A chain of halvings.
pub(crate) struct Decimator {
    stages: Vec<Stage>,
    between: Vec<f32>,
}

impl Decimator {
    /// Lowers the rate by 2^`stages`; 0 hands samples through.
    pub(crate) fn new(stages: u32) -> Self {
        Self { stages: (0..stages).map(|_| Stage::new()).collect(), between: Vec::new() }
    }

    /// Appends to `out` every output sample that `input` completes.
    pub(crate) fn push(&mut self, input: &[f32], out: &mut Vec<f32>) {
        match self.stages.as_mut_slice() {
            [] => out.extend_from_slice(input),
            [only] => only.push(input, out),
            [first, more @ ..] => {
                let mut signal = std::mem::take(&mut self.between);
                signal.clear();
                first.push(input, &mut signal);
                let (last, middle) = match more {
                    [middle @ .., last] => (last, middle),
                    [] => return,
                };
                for stage in middle {
                    let mut halved = Vec::with_capacity(signal.len() / 2 + 1);
                    stage.push(&signal, &mut halved);
                    signal = halved;
                }
                last.push(&signal, out);
                self.between = signal;
            }
        }
    }

    /// How many zeros push the last real sample through the filters.
    pub(crate) fn tail(&self) -> usize {
        TAPS << self.stages.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_low_tone_passes_in_place_and_a_high_one_is_gone() {
        for stages in 0..4u32 {
            let factor = 1usize << stages;
            let tone = |f: f64, i: usize| (std::f64::consts::TAU * f * i as f64).sin() as f32;
            let (low, high) = (0.15 / factor as f64, 0.82 / factor as f64);
            for (f, want) in [(low, 1.0f32), (high, if stages == 0 { 1.0 } else { 0.0 })] {
                let input: Vec<f32> = (0..4000).map(|i| tone(f, i)).collect();
                let mut out = Vec::new();
                let mut d = Decimator::new(stages);
                for piece in input.chunks(37) {
                    d.push(piece, &mut out);
                }
                assert!(out.len() > (4000 - d.tail()) / factor);
                for (m, v) in out.iter().enumerate().skip(50) {
                    assert!((v - want * tone(f, m * factor)).abs() < 1e-2, "stages {stages}, f {f}, {m}: {v}");
                }
            }
        }
    }
}
