//! Knocks on wood while the drill is played: a few low modes that are over within a tenth of a second, and the click of
//! what struck. Plain choices, no source.

use crate::sound::{Knocks, NOTE_PEAK};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;

/// The lowest mode, Hz; the others lie above it by these factors, about.
const LOWEST_HZ: (f64, f64) = (70.0, 260.0);
const MODES: [f64; 3] = [1.0, 1.9, 3.4];
/// To 60 dB down, seconds.
const T60_S: (f64, f64) = (0.06, 0.16);
/// The click's share of the peak, and how fast it falls, seconds.
const CLICK: f64 = 0.4;
const CLICK_FALLS_S: f64 = 0.0008;

struct Knock {
    level: f64,
    click: f64,
    /// Frequency in turns a sample, amplitude, share kept from sample to sample.
    modes: [(f64, f64, f64); 3],
    n: f64,
}

/// Knocks that come again and again.
pub(crate) struct Knocking {
    rng: ChaCha8Rng,
    rate: f64,
    level: f64,
    apart: f64,
    wait: f64,
    now: Option<Knock>,
}

impl Knocking {
    pub(crate) fn new(knocks: &Knocks, rate: f64) -> Self {
        let level = if knocks.level.0.is_finite() { knocks.level.0.clamp(-60.0, 20.0) } else { -60.0 };
        let apart = if knocks.apart.0.is_finite() { knocks.apart.0.max(0.05) } else { 1.0 } * rate;
        let mut rng = ChaCha8Rng::seed_from_u64(knocks.seed);
        let wait = apart * (0.3 + rng.random::<f64>());
        let level = NOTE_PEAK.amplitude() * 10f64.powf(level / 20.0);
        Self { rng, rate, level, apart, wait, now: None }
    }

    pub(crate) fn next(&mut self) -> f64 {
        self.wait -= 1.0;
        if self.wait <= 0.0 {
            self.wait = self.apart * (0.5 + self.rng.random::<f64>());
            self.now = Some(self.begin());
        }
        let white = 2.0 * self.rng.random::<f64>() - 1.0;
        let Some(k) = &mut self.now else { return 0.0 };
        let mut y = k.click * white;
        k.click *= (-1.0 / (CLICK_FALLS_S * self.rate)).exp();
        for (turns, amplitude, keeps) in &mut k.modes {
            y += *amplitude * (TAU * (*turns * k.n).fract()).sin();
            *amplitude *= *keeps;
        }
        k.n += 1.0;
        k.level * y
    }

    fn begin(&mut self) -> Knock {
        let u: [f64; 8] = self.rng.random();
        let lowest = LOWEST_HZ.0 * (LOWEST_HZ.1 / LOWEST_HZ.0).powf(u[0]);
        let t60 = T60_S.0 + (T60_S.1 - T60_S.0) * u[1];
        let mode = |k: usize| {
            let hz = lowest * MODES[k] * (0.85 + 0.3 * u[2 + k]);
            // Higher modes are softer and die sooner.
            let down = 1.0 + k as f64;
            (hz / self.rate, 0.6 / down, 10f64.powf(-3.0 * down.sqrt() / (t60 * self.rate)))
        };
        Knock {
            level: self.level * 10f64.powf((8.0 * u[5] - 5.0) / 20.0),
            click: CLICK * (0.3 + u[6]),
            modes: [mode(0), mode(1), mode(2)],
            n: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_units::{Decibels, Seconds};

    #[test]
    fn knocks_are_as_loud_as_asked_and_over_soon() {
        let knocks = Knocks { level: Decibels(-6.0), apart: Seconds(1.0), seed: 3 };
        let mut knocking = Knocking::new(&knocks, 44_100.0);
        let x: Vec<f64> = (0..30 * 44_100).map(|_| knocking.next().abs()).collect();
        let peak = x.iter().fold(0.0f64, |m, v| m.max(*v));
        let over = Decibels::from_amplitude(peak).0 - NOTE_PEAK.0 + 6.0;
        assert!((-3.0..6.0).contains(&over), "{over}");
        let sounding = x.iter().filter(|v| **v > 0.01 * peak).count() as f64 / x.len() as f64;
        assert!((0.02..0.2).contains(&sounding), "{sounding}");
    }
}
