//! Lowering the sample rate of a stretch of sound by a whole factor.

use crate::dot::dot;
use crate::tuning::sound::{EDGE, HALF_TAPS};
use std::sync::OnceLock;

/// A stretch at a lowered rate; its first sample stands where the original's first one does.
#[derive(Debug, Clone)]
pub(crate) struct Decimated {
    pub(crate) samples: Vec<f32>,
    /// Samples a second.
    pub(crate) rate: f64,
}

/// The whole factor that brings `rate` closest to `target` from above, at least 1.
pub(crate) fn factor(rate: f64, target: f64) -> usize {
    (rate / target).floor().max(1.0) as usize
}

/// A windowed-sinc low-pass (Blackman window, linear phase, its delay taken off), then every `factor`-th sample.
pub(crate) fn decimate(sound: &[f32], rate: f64, factor: usize) -> Decimated {
    if factor <= 1 {
        return Decimated { samples: sound.to_vec(), rate };
    }
    let made;
    let taps = match LOW_PASSES.get(factor) {
        Some(kept) => kept.get_or_init(|| low_pass(factor)),
        None => {
            made = low_pass(factor);
            &made
        }
    };
    let half = taps.len() / 2;
    let samples = (0..sound.len())
        .step_by(factor)
        .map(|centre| {
            // Beyond the stretch there is silence.
            let from = centre.saturating_sub(half);
            let to = (centre + half + 1).min(sound.len());
            let first_tap = from + half - centre;
            dot(&sound[from..to], &taps[first_tap..])
        })
        .collect();
    Decimated { samples, rate: rate / factor as f64 }
}

/// The low-passes of factors up to here are made once.
static LOW_PASSES: [OnceLock<Vec<f32>>; 40] = [const { OnceLock::new() }; 40];

fn low_pass(factor: usize) -> Vec<f32> {
    use std::f64::consts::{PI, TAU};
    let half = HALF_TAPS * factor;
    let cutoff = EDGE / factor as f64;
    let taps: Vec<f64> = (0..=2 * half)
        .map(|i| {
            let x = PI * cutoff * (i as f64 - half as f64);
            let sinc = if x == 0.0 { 1.0 } else { x.sin() / x };
            let phase = TAU * (i as f64 + 1.0) / (2 * half + 2) as f64;
            sinc * (0.42 - 0.5 * phase.cos() + 0.08 * (2.0 * phase).cos())
        })
        .collect();
    let sum: f64 = taps.iter().sum();
    taps.iter().map(|t| (t / sum) as f32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn a_low_tone_stays_in_place_and_a_high_one_goes() {
        let tone = |cycles: f64, i: usize| (TAU * cycles * i as f64).sin();
        for by in [1, 2, 4, 15] {
            for (cycles, keeps) in [(0.1 / by as f64, 1.0), (0.8 / by as f64, if by == 1 { 1.0 } else { 0.0 })] {
                let sound: Vec<f32> = (0..4_000).map(|i| tone(cycles, i) as f32).collect();
                let decimated = decimate(&sound, 44_100.0, by);
                assert_eq!(decimated.rate, 44_100.0 / by as f64);
                let margin = 30;
                for m in margin..decimated.samples.len() - margin {
                    let want = keeps * tone(cycles, m * by);
                    assert!((f64::from(decimated.samples[m]) - want).abs() < 2e-3, "by {by}, {cycles}: sample {m}");
                }
            }
        }
    }

    #[test]
    fn factors() {
        assert_eq!((factor(44_100.0, 11_000.0), factor(8_000.0, 11_000.0), factor(96_000.0, 22_000.0)), (4, 1, 4));
        assert!(decimate(&[], 44_100.0, 4).samples.is_empty());
    }
}
