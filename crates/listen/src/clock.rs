//! Lengths in samples and frames for one sample rate: every window is given in milliseconds, so that all rates hear
//! alike.

use takegauge_units::SampleRate;

/// The analysis runs at the take's own rate divided by a whole number, at or a little above this rate.
const WORKING_RATE_HZ: f64 = 21_000.0;
/// Distance of two analysis frames.
pub(crate) const HOP_MS: f64 = 2.5;
/// Length of the analysis window.
const WINDOW_MS: f64 = 23.2;

/// The sizes that follow from a sample rate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Clock {
    /// The take's sample rate, Hz.
    pub(crate) rate: f64,
    /// Input samples to one working sample.
    pub(crate) factor: usize,
    /// Working samples from a frame to the next.
    pub(crate) hop: usize,
    /// Working samples in a frame, even, without large prime factors.
    pub(crate) window: usize,
}

impl Clock {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let rate = rate.as_f64();
        let factor = ((rate / WORKING_RATE_HZ).floor() as usize).max(1);
        let working = rate / factor as f64;
        let hop = ((HOP_MS * 1e-3 * working).round() as usize).max(1);
        let window = smooth_even((WINDOW_MS * 1e-3 * working).round() as usize);
        Self { rate, factor, hop, window }
    }

    /// Samples of the take from a frame to the next.
    pub(crate) fn hop_samples(self) -> usize {
        self.hop * self.factor
    }

    /// Working samples a second.
    pub(crate) fn working_rate(self) -> f64 {
        self.rate / self.factor as f64
    }

    /// A length in frames, at least 1.
    pub(crate) fn frames(self, ms: f64) -> usize {
        ((ms * 1e-3 * self.rate / self.hop_samples() as f64).round() as usize).max(1)
    }

    /// A length in samples of the take.
    pub(crate) fn samples(self, ms: f64) -> usize {
        (ms * 1e-3 * self.rate).round() as usize
    }
}

/// The nearest even number with no prime factor above 5, for which Fourier transforms are fast; at least 16.
fn smooth_even(near: usize) -> usize {
    let smooth = |mut n: usize| {
        for p in [2, 3, 5] {
            while n % p == 0 {
                n /= p;
            }
        }
        n == 1
    };
    let near = near.max(16);
    (0..near).flat_map(|d| [near - d.min(near - 16), near + d]).find(|n| n % 2 == 0 && smooth(*n)).unwrap_or(16)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_last_alike_at_every_rate() {
        for hz in [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000] {
            let c = Clock::new(SampleRate::new(hz).unwrap());
            let hop = 1e3 * c.hop_samples() as f64 / c.rate;
            let window = 1e3 * (c.window * c.factor) as f64 / c.rate;
            assert!((hop - HOP_MS).abs() < 0.07, "{hz}: hop {hop} ms");
            assert!((window - WINDOW_MS).abs() < 1.0, "{hz}: window {window} ms");
            assert!(hz < 21_000 || (21_000.0..42_000.0).contains(&c.working_rate()), "{hz}");
        }
        assert!(SampleRate::new(1).map(Clock::new).unwrap().window >= 16);
    }
}
