//! The spectral flux in its plain form, as textbooks and papers write it: slow, in f64 but for the
//! transform, a take at a time.
//!
//! It is what the fast path (`frames`, `flux`, `floor`) is tested against, and it is itself checked outside: the
//! spectrum, the mel bands and the onset strength against librosa, [`superflux`] against its published description
//! (`tests/reference/flux_librosa.py`; `cargo run -p takegauge-listen --example plain_flux -- TAKE` prints the figures).
//!
//! Conventions: samples full scale 1; a spectrogram is a list of frames, frame n centred on sample n times the hop,
//! zeros beyond the sound's ends; a filter bank is a list of bands, each with a weight for every bin from 0 Hz to the
//! Nyquist frequency.

mod attack_flux;
mod spectra;

pub use attack_flux::attack_flux;
pub use spectra::{Frames, hann, spectrogram};

use takegauge_units::{Hertz, SampleRate, Seconds};

/// Triangular bands evenly spaced in mel from 0 Hz to the Nyquist frequency, each of area 1 (Slaney 1998, Auditory
/// Toolbox, `mfcc`): linear up to 1 kHz at 200/3 Hz a mel, above 27 mel to a factor of 6.4.
pub fn mel_bank(rate: SampleRate, length: usize, bands: usize) -> Frames {
    const HZ_A_MEL: f64 = 200.0 / 3.0;
    const BEND_HZ: f64 = 1_000.0;
    let step = 6.4f64.ln() / 27.0;
    let mel = |hz: f64| if hz < BEND_HZ { hz / HZ_A_MEL } else { BEND_HZ / HZ_A_MEL + (hz / BEND_HZ).ln() / step };
    let hz = |mel: f64| {
        let bend = BEND_HZ / HZ_A_MEL;
        if mel < bend { mel * HZ_A_MEL } else { BEND_HZ * ((mel - bend) * step).exp() }
    };
    let top = mel(rate.as_f64() / 2.0);
    let corners: Vec<f64> = (0..bands + 2).map(|k| hz(top * k as f64 / (bands + 1) as f64)).collect();
    let triangle = |c: &[f64], at: f64| {
        let up = (at - c[0]) / (c[1] - c[0]);
        let down = (c[2] - at) / (c[2] - c[1]);
        up.min(down).max(0.0) * 2.0 / (c[2] - c[0])
    };
    let bin = |k: usize| k as f64 * rate.as_f64() / length as f64;
    corners.windows(3).map(|c| (0..=length / 2).map(|k| triangle(c, bin(k))).collect()).collect()
}

/// Triangular bands of height 1 whose corners lie `per_octave` to an octave about 440 Hz, each at the nearest bin;
/// corners that fall on one bin are one (Böck & Widmer 2013, section 2.2, and their published program).
pub fn log_bank(rate: SampleRate, length: usize, per_octave: u32, from: Hertz, to: Hertz) -> Frames {
    let bins = length / 2;
    let to = to.0.min(rate.as_f64() / 2.0);
    let corner = |k: i32| 440.0 * 2f64.powf(f64::from(k) / f64::from(per_octave));
    // One more on either side than lies within: the outer corners of the outermost bands.
    let mut first = 0;
    while corner(first) >= from.0 {
        first -= 1;
    }
    let mut last = 0;
    while corner(last) <= to {
        last += 1;
    }
    let mut corners: Vec<usize> =
        (first..=last).map(|k| (corner(k) * length as f64 / rate.as_f64()).round() as usize).collect();
    corners.dedup();
    corners.retain(|c| *c < bins);
    let triangle = |c: &[usize], k: usize| {
        let part = |a: usize, b: usize| a as f64 / b as f64;
        if (c[0]..c[1]).contains(&k) {
            part(k - c[0], c[1] - c[0])
        } else if (c[1]..c[2]).contains(&k) {
            part(c[2] - k, c[2] - c[1])
        } else {
            0.0
        }
    };
    corners.windows(3).map(|c| (0..=bins).map(|k| triangle(c, k)).collect()).collect()
}

/// The bands of every frame.
pub fn filtered(spectra: &Frames, bank: &Frames) -> Frames {
    let band = |frame: &[f64], weights: &[f64]| frame.iter().zip(weights).map(|(x, w)| x * w).sum();
    spectra.iter().map(|frame| bank.iter().map(|weights| band(frame, weights)).collect()).collect()
}

/// The spectral flux (Bello et al. 2005, section III.A.1) with lag and maximum filter (Böck & Widmer 2013, section 2.3):
/// the sum over bands of how far a frame stands above the loudest of `widen` (an odd number) neighbouring bands `lag`
/// frames before. 0 for the first `lag` frames.
pub fn flux(bands: &Frames, lag: usize, widen: usize) -> Vec<f64> {
    let side = widen / 2;
    let rise = |now: &[f64], then: &[f64]| {
        let before = |b: usize| then[b.saturating_sub(side)..then.len().min(b + side + 1)].iter().copied();
        now.iter().enumerate().map(|(b, x)| (x - before(b).fold(f64::MIN, f64::max)).max(0.0)).sum()
    };
    let rises = bands.iter().skip(lag).zip(bands).map(|(now, then)| rise(now, then));
    std::iter::repeat_n(0.0, lag.min(bands.len())).chain(rises).collect()
}

/// librosa's onset strength at its own settings (McFee et al. 2015; version 0.11): 2048 samples every 512, 128 mel
/// bands of power, decibels down to 80 below the loudest, mean flux of one frame to the next, half a window late.
pub struct OnsetStrength {
    /// Magnitudes.
    pub spectra: Frames,
    /// Power in mel bands.
    pub mel: Frames,
    /// The detection function.
    pub strength: Vec<f64>,
}

/// See [`OnsetStrength`].
pub fn onset_strength(samples: &[f32], rate: SampleRate) -> OnsetStrength {
    const LENGTH: usize = 2_048;
    const HOP: usize = 512;
    const BANDS: usize = 128;
    const LEAST_POWER: f64 = 1e-10;
    const RANGE_DB: f64 = 80.0;
    let spectra = spectrogram(samples, &hann(LENGTH, LENGTH, 0.0), HOP as f64, samples.len() / HOP + 1);
    let powers: Frames = spectra.iter().map(|f| f.iter().map(|x| x * x).collect()).collect();
    let mel = filtered(&powers, &mel_bank(rate, LENGTH, BANDS));
    let decibels = |x: &f64| 10.0 * x.max(LEAST_POWER).log10();
    let loudest = mel.iter().flatten().map(decibels).fold(f64::MIN, f64::max);
    let levels: Frames = mel.iter().map(|f| f.iter().map(|x| decibels(x).max(loudest - RANGE_DB)).collect()).collect();
    let rises = flux(&levels, 1, 1);
    let late = std::iter::repeat_n(0.0, LENGTH / (2 * HOP));
    let strength = late.chain(rises.iter().map(|x| x / BANDS as f64)).take(spectra.len()).collect();
    OnsetStrength { spectra, mel, strength }
}

/// Frames a second of [`superflux`].
pub const SUPERFLUX_FRAMES_A_SECOND: u32 = 200;

/// The SuperFlux detection function at its published setting (Böck & Widmer 2013 and their published program): frames
/// of 2048 samples, 200 a second; 24 bands an octave from 30 Hz to 17 kHz; log10(1 + magnitude); the earlier frame
/// widened by a maximum over three bands, as many frames back as bring the window from half its height to its middle.
pub fn superflux(samples: &[f32], rate: SampleRate) -> Vec<f64> {
    const LENGTH: usize = 2_048;
    let window = hann(LENGTH, LENGTH - 1, 0.0);
    let hop = rate.as_f64() / f64::from(SUPERFLUX_FRAMES_A_SECOND);
    let spectra = spectrogram(samples, &window, hop, (samples.len() as f64 / hop).ceil() as usize);
    let mut bands = filtered(&spectra, &log_bank(rate, LENGTH, 24, Hertz(30.0), Hertz(17_000.0)));
    bands.iter_mut().flatten().for_each(|x| *x = (1.0 + *x).log10());
    let half = window.iter().position(|w| *w > 0.5).unwrap_or(0);
    let lag = ((LENGTH / 2 - half) as f64 / hop).round().max(1.0);
    flux(&bands, lag as usize, 3)
}

/// Attacks from [`superflux`] by the published peak picking (Böck, Krebs & Schedl 2012, section 2.2): a value is one if
/// it is the largest from 10 ms before to 50 ms after, stands 1.1 above the mean of the last 150 ms, and comes more than
/// 30 ms after the last.
pub fn superflux_attacks(flux: &[f64]) -> Vec<Seconds> {
    const THRESHOLD: f64 = 1.1;
    let frames = |ms: f64| (ms * 1e-3 * f64::from(SUPERFLUX_FRAMES_A_SECOND)).round() as usize;
    let (before, after, mean_of, apart) = (frames(10.0), frames(50.0), frames(150.0) + 1, frames(30.0));
    let mut last: Option<usize> = None;
    let mut attacks = Vec::new();
    for (n, here) in flux.iter().enumerate() {
        let near = &flux[n.saturating_sub(before)..flux.len().min(n + after + 1)];
        // What lies before the beginning counts as 0.
        let mean = flux[(n + 1).saturating_sub(mean_of)..=n].iter().sum::<f64>() / mean_of as f64;
        let largest = near.iter().all(|x| x <= here);
        if largest && *here > 0.0 && *here >= mean + THRESHOLD && last.is_none_or(|l| n - l > apart) {
            last = Some(n);
            attacks.push(Seconds(n as f64 / f64::from(SUPERFLUX_FRAMES_A_SECOND)));
        }
    }
    attacks
}
