//! The flux of this crate in its plain form.

use super::spectra::{Frames, hann, spectrogram};
use crate::clock::Clock;
use crate::frames::band_edges;
use crate::tuning::flux::{AHEAD_MS, APART, BACK_MS, KNEE, LAG_MS, MEAN_OVER_QUIETEST, MOMENT_FRAMES};
use crate::tuning::frames::SPECTRUM_EVERY;
use takegauge_units::SampleRate;

/// Band powers and the flux of every frame, octaves a band, of a take at `rate`. `slow` is the take at the rate of the
/// spectrum: the take itself below 21 kHz, else halved in rate until another halving would bring it below 10.5 kHz.
/// What is particular to this flux is said in `flux.rs`.
pub fn attack_flux(slow: &[f32], rate: SampleRate) -> (Frames, Vec<f64>) {
    let clock = Clock::new(rate);
    let powers = band_powers(slow, clock);
    let begin = slow.iter().position(|x| *x != 0.0);
    // Frames before this one hold the splatter of the beginning.
    let first = begin.map_or(usize::MAX, |b| (b + clock.window / 2).div_ceil(SPECTRUM_EVERY * clock.hop));
    let (back, ahead) = (clock.spectra(BACK_MS), clock.spectra(AHEAD_MS));
    let moments_kept = clock.spectra(BACK_MS + AHEAD_MS).div_ceil(MOMENT_FRAMES);
    let lag = clock.spectra(LAG_MS);
    let loudness: Vec<f64> = powers.iter().map(|f| f.iter().sum()).collect();
    let silence = vec![0.0; powers.first().map_or(0, Vec::len)];
    let flux = (0..powers.len()).map(|m| {
        if m < first {
            return 0.0;
        }
        let known = powers.len().min(m + ahead + 1);
        let knee = f64::from(KNEE) * loudness[m.saturating_sub(back)..known].iter().fold(0.0, |a: f64, b| a.max(*b));
        let floor = floor(powers.get(first..known).unwrap_or(&[]), moments_kept, silence.len());
        let then = m.checked_sub(lag).map_or(&silence, |then| &powers[then]);
        let octaves = |p: f64, b: usize| 0.5 * (1.0 + p / (knee + floor[b] + f64::from(f32::MIN_POSITIVE))).log2();
        let before: Vec<f64> = then.iter().enumerate().map(|(b, p)| octaves(p.max(floor[b]), b)).collect();
        let now: Vec<f64> = powers[m].iter().enumerate().map(|(b, p)| octaves(*p, b)).collect();
        let last = now.len() - 1;
        let rise = |b: usize| {
            let loudest = before[b.saturating_sub(1)..=last.min(b + 1)].iter().fold(f64::MIN, |a, x| a.max(*x));
            let beside = now[b.saturating_sub(APART)].min(now[last.min(b + APART)]);
            (now[b] - loudest).min(now[b] - beside).max(0.0)
        };
        (0..now.len()).map(rise).sum::<f64>() / now.len() as f64
    });
    let flux = flux.collect();
    (powers, flux)
}

/// Amplitudes squared (a full-scale sine has 1), summed over each band, of every frame that ends within the sound.
fn band_powers(slow: &[f32], clock: Clock) -> Frames {
    let (n, hop) = (clock.window, SPECTRUM_EVERY * clock.hop);
    let window: Vec<f64> = hann(n, n, 0.5).iter().map(|w| w * 2.0 / n as f64).collect();
    let frames = if slow.len() < n / 2 { 0 } else { (slow.len() - n / 2) / hop + 1 };
    let bands = band_edges(n, clock.spectrum_rate());
    let powers = |f: Vec<f64>| bands.iter().map(|b| f[b.clone()].iter().map(|x| x * x).sum()).collect();
    spectrogram(slow, &window, hop as f64, frames).into_iter().map(powers).collect()
}

/// The noise in each band: that of the quietest moment of the last `kept`, silent ones aside.
fn floor(frames: &[Vec<f64>], kept: usize, bands: usize) -> Vec<f64> {
    let moments: Vec<&[Vec<f64>]> = frames.chunks_exact(MOMENT_FRAMES).collect();
    let sounding =
        moments[moments.len().saturating_sub(kept)..].iter().filter(|m| m.iter().flatten().any(|p| *p > 0.0));
    let mut least = vec![f64::INFINITY; bands];
    for moment in sounding {
        for (b, l) in least.iter_mut().enumerate() {
            *l = l.min(moment.iter().map(|f| f[b]).sum::<f64>() / MOMENT_FRAMES as f64);
        }
    }
    least.into_iter().map(|l| if l.is_finite() { f64::from(MEAN_OVER_QUIETEST) * l } else { 0.0 }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flux::Flux;
    use crate::frames::Framer;
    use crate::halfband::Decimator;

    /// Five tones that begin one after another over noise, after silence.
    fn sound(rate: f64) -> Vec<f32> {
        let mut state = 7u64;
        let mut noise = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f32 / (1u64 << 30) as f32 - 1.0
        };
        let tone = |f: f64, from: f64, t: f64| {
            if t < from { 0.0 } else { (std::f64::consts::TAU * f * t).sin() * (-3.0 * (t - from)).exp() }
        };
        (0..(6.0 * rate) as usize)
            .map(|i| {
                let t = i as f64 / rate;
                let tones: f64 = (1..=5).map(|k| tone(110.0 * f64::from(k), 0.4 + 0.9 * f64::from(k), t)).sum();
                if t < 0.3 { 0.0 } else { 0.2 * tones as f32 + 1e-3 * noise() }
            })
            .collect()
    }

    /// Band powers and flux as the listener computes them.
    fn fast(slow: &[f32], clock: Clock) -> (Vec<Vec<f32>>, Vec<f32>) {
        let mut framer = Framer::new(clock);
        let mut flux = Flux::new(clock, framer.bands());
        let begin = slow.iter().position(|x| *x != 0.0).unwrap();
        let (mut powers, mut values) = (Vec::new(), Vec::new());
        for block in slow.chunks(777) {
            framer.push(block, |p| {
                let whole = powers.len() * SPECTRUM_EVERY * clock.hop >= begin + clock.window / 2;
                powers.push(p.to_vec());
                values.extend(flux.push(p, whole));
            });
        }
        while let Some(f) = flux.drain() {
            values.push(f);
        }
        (powers, values)
    }

    #[test]
    fn the_fast_path_gives_the_plain_forms_numbers() {
        for hz in [11_025, 16_000, 44_100, 48_000] {
            let rate = SampleRate::new(hz).unwrap();
            let clock = Clock::new(rate);
            let mut slow = Vec::new();
            let mut halve = Decimator::new(clock.first_halvings + clock.more_halvings);
            halve.push(&sound(rate.as_f64()), &mut slow);
            let (powers, flux) = attack_flux(&slow, rate);
            let (fast_powers, fast_flux) = fast(&slow, clock);
            assert_eq!((powers.len(), flux.len()), (fast_powers.len(), fast_flux.len()), "{hz} Hz");
            let loudest = powers.iter().flatten().fold(0.0f64, |a, x| a.max(*x));
            for (m, (plain, fast)) in powers.iter().zip(&fast_powers).enumerate() {
                for (b, (p, f)) in plain.iter().zip(fast).enumerate() {
                    let off = (p - f64::from(*f)).abs();
                    assert!(off < 1e-4 * p + 1e-10 * loudest, "{hz} Hz, frame {m}, band {b}: {p} {f}");
                }
            }
            for (m, (p, f)) in flux.iter().zip(&fast_flux).enumerate() {
                assert!((p - f64::from(*f)).abs() < 1e-3, "{hz} Hz, frame {m}: {p} {f}");
            }
            assert!(flux.iter().filter(|f| **f > 0.03).count() >= 5, "{hz} Hz: the notes do not show");
        }
    }
}
