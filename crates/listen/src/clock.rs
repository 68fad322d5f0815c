//! Lengths in samples and frames for one sample rate: every window is given in milliseconds, so that all rates hear
//! alike.

use crate::tuning::frames::{HOP_MS, SPECTRUM_EVERY, SPECTRUM_RATE_HZ, TRANSIENT_RATE_HZ, WINDOW_MS};
use takegauge_units::SampleRate;

/// The sizes that follow from a sample rate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Clock {
    /// The take's sample rate, Hz.
    pub(crate) rate: f64,
    /// Halvings from the take's rate to the transients'.
    pub(crate) first_halvings: u32,
    /// Halvings from there to the spectrum's.
    pub(crate) more_halvings: u32,
    /// Spectrum samples from a frame to the next.
    pub(crate) hop: usize,
    /// Spectrum samples in a frame, even, without large prime factors.
    pub(crate) window: usize,
}

impl Clock {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let rate = rate.as_f64();
        let halvings = |mut from: f64, least: f64| {
            let mut n = 0;
            while from / 2.0 >= least {
                from /= 2.0;
                n += 1;
            }
            n
        };
        let first_halvings = halvings(rate, TRANSIENT_RATE_HZ);
        let transient_rate = rate / f64::from(1 << first_halvings);
        let more_halvings = halvings(transient_rate, SPECTRUM_RATE_HZ);
        let spectrum_rate = transient_rate / f64::from(1 << more_halvings);
        let hop = ((HOP_MS * 1e-3 * spectrum_rate).round() as usize).max(1);
        let window = smooth_even((WINDOW_MS * 1e-3 * spectrum_rate).round() as usize);
        Self { rate, first_halvings, more_halvings, hop, window }
    }

    /// Samples of the take from a frame to the next.
    pub(crate) fn hop_samples(self) -> usize {
        self.hop << (self.first_halvings + self.more_halvings)
    }

    /// Samples of the take in a frame.
    pub(crate) fn window_samples(self) -> usize {
        self.window << (self.first_halvings + self.more_halvings)
    }

    /// Transient samples from a frame to the next.
    pub(crate) fn hop_transient(self) -> usize {
        self.hop << self.more_halvings
    }

    /// Transient samples a second.
    pub(crate) fn transient_rate(self) -> f64 {
        self.rate / f64::from(1 << self.first_halvings)
    }

    /// Spectrum samples a second.
    pub(crate) fn spectrum_rate(self) -> f64 {
        self.transient_rate() / f64::from(1 << self.more_halvings)
    }

    /// A length in frames, at least 1.
    pub(crate) fn frames(self, ms: f64) -> usize {
        ((ms * 1e-3 * self.rate / self.hop_samples() as f64).round() as usize).max(1)
    }

    /// A length in spectra, at least 1.
    pub(crate) fn spectra(self, ms: f64) -> usize {
        ((ms * 1e-3 * self.rate / (SPECTRUM_EVERY * self.hop_samples()) as f64).round() as usize).max(1)
    }

    /// A length in samples at the transients' rate.
    pub(crate) fn transient_samples(self, ms: f64) -> f64 {
        ms * 1e-3 * self.transient_rate()
    }
}

/// The nearest even number with no prime factor above 5, for which Fourier transforms are fast; at least 16.
pub(crate) fn smooth_even(near: usize) -> usize {
    let smooth = |mut n: usize| {
        for p in [2, 3, 5] {
            while n.is_multiple_of(p) {
                n /= p;
            }
        }
        n == 1
    };
    let near = near.max(16);
    (0..near)
        .flat_map(|d| [near - d.min(near - 16), near + d])
        .find(|n| n.is_multiple_of(2) && smooth(*n))
        .unwrap_or(16)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_last_alike_at_every_rate() {
        for hz in [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 64_000, 88_200, 96_000, 176_400, 192_000] {
            let c = Clock::new(SampleRate::new(hz).unwrap());
            let hop = 1e3 * c.hop_samples() as f64 / c.rate;
            let window = 1e3 * c.window as f64 / c.spectrum_rate();
            assert!((hop - HOP_MS).abs() < 0.07, "{hz}: hop {hop} ms");
            assert!((window - WINDOW_MS).abs() < 1.5, "{hz}: window {window} ms");
            assert!(hz < 21_000 || (10_500.0..21_000.0).contains(&c.spectrum_rate()), "{hz}");
        }
        assert!(SampleRate::new(1).map(Clock::new).unwrap().window >= 16);
    }
}
