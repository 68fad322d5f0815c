//! Lowering the sample rate by a whole factor: a windowed-sinc low-pass, then every `factor`-th sample.
//!
//! Output sample m stands at input sample m * factor (the filter's delay is taken off), so times carry over exactly.

/// Taps per unit of the factor, on either side of the middle one: the transition band is about a quarter of the
/// output's Nyquist frequency, the stop band (Blackman window) below -70 dB.
const HALF_TAPS: usize = 12;

/// A streaming decimator. Its output does not depend on how the input is cut into blocks.
pub(crate) struct Decimator {
    factor: usize,
    taps: Vec<f32>,
    /// Input not yet used up; the first entry is the first sample that the next output needs.
    pending: Vec<f32>,
}

impl Decimator {
    /// `factor` >= 1; 1 hands samples through.
    pub(crate) fn new(factor: usize) -> Self {
        let half = HALF_TAPS * factor;
        let cutoff = 0.84 / factor as f64;
        let mut taps: Vec<f64> = (0..=2 * half)
            .map(|i| {
                let x = i as f64 - half as f64;
                let sinc = if x == 0.0 {
                    1.0
                } else {
                    (std::f64::consts::PI * cutoff * x).sin() / (std::f64::consts::PI * cutoff * x)
                };
                let phase = std::f64::consts::TAU * (i as f64 + 1.0) / (2 * half + 2) as f64;
                sinc * (0.42 - 0.5 * phase.cos() + 0.08 * (2.0 * phase).cos())
            })
            .collect();
        let sum: f64 = taps.iter().sum();
        taps.iter_mut().for_each(|t| *t /= sum);
        // Zeros before the first sample, so that output 0 is centred on input 0.
        let pending = if factor == 1 { Vec::new() } else { vec![0.0; half] };
        Self { factor, taps: taps.into_iter().map(|t| t as f32).collect(), pending }
    }

    /// Appends to `out` every output sample that `input` completes.
    pub(crate) fn push(&mut self, input: &[f32], out: &mut Vec<f32>) {
        if self.factor == 1 {
            out.extend_from_slice(input);
            return;
        }
        self.pending.extend_from_slice(input);
        let n = self.taps.len();
        let mut at = 0;
        while at + n <= self.pending.len() {
            out.push(dot(&self.taps, &self.pending[at..at + n]));
            at += self.factor;
        }
        self.pending.drain(..at);
    }

    /// How many zeros push the last real sample through the filter.
    pub(crate) fn tail(&self) -> usize {
        if self.factor == 1 { 0 } else { self.taps.len() / 2 }
    }
}

/// Sum of products in a fixed order with eight running sums, which the compiler turns into vector code.
pub(crate) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut sums = [0.0f32; 8];
    let (ca, cb) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest: f32 = ca.remainder().iter().zip(cb.remainder()).map(|(x, y)| x * y).sum();
    for (x, y) in ca.zip(cb) {
        for i in 0..8 {
            sums[i] += x[i] * y[i];
        }
    }
    rest + sums.iter().sum::<f32>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_low_tone_passes_in_place_and_a_high_one_is_gone() {
        for factor in [2usize, 4, 8] {
            let tone = |f: f64, i: usize| (std::f64::consts::TAU * f * i as f64).sin() as f32;
            let (low, high) = (0.1 / factor as f64, 0.8 / factor as f64);
            for (f, want) in [(low, 1.0f32), (high, 0.0)] {
                let input: Vec<f32> = (0..4000).map(|i| tone(f, i)).collect();
                let mut out = Vec::new();
                let mut d = Decimator::new(factor);
                d.push(&input, &mut out);
                for (m, v) in out.iter().enumerate().skip(50) {
                    assert!((v - want * tone(f, m * factor)).abs() < 2e-3, "factor {factor}, f {f}, {m}: {v}");
                }
            }
        }
    }
}
