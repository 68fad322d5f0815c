//! How well the attacks of two notes match when one is laid over the other so many milliseconds later.
//!
//! In each of four bands the first milliseconds of one note are correlated with the sound around the other (normalised
//! cross-correlation). For a signal of unknown level in noise of unknown level, the logarithm of the likelihood ratio
//! of "the same attack" against "another one" is -ln(1 - r^2) per degree of freedom, r being the correlation (the
//! generalised likelihood ratio test; Kay 1998, Fundamentals of Statistical Signal Processing II, chapter 9); the bands
//! add up.

use crate::butterworth::Section;
use crate::decimate::{decimate, factor};
use crate::tuning::alike::{
    AFTER_MS, BEFORE_MS, BLOCK_MS, EDGES_HZ, HIGHEST, HIGHEST_EDGE, LEAST_ENERGY, NEW_BLOCKS, PAST_BLOCKS, RATE_HZ,
    REACH_MS, RUN_IN_MS, SILENT,
};
use std::sync::Arc;
use takegauge_fourier::{Complex32, ComplexToReal, RealToComplex};

/// The sound around an attack at the rate at which it is compared.
#[derive(Debug, Clone)]
pub(crate) struct Cut {
    samples: Vec<f32>,
    /// How much earlier the attack is than the sample that stands for it, ms.
    early_ms: f64,
}

impl Cut {
    /// The attack is known to be `after_ms` later.
    pub(crate) fn move_attack(&mut self, after_ms: f64) {
        self.early_ms -= after_ms;
    }
}

/// An attack prepared for comparison: spectra of its bands.
pub(crate) struct Print {
    /// The attack alone, and all that is searched, by band.
    attack: Vec<Vec<Complex32>>,
    around: Vec<Vec<Complex32>>,
    /// What brings the attack, and every equally long piece of what is searched, to an energy of 1, by band.
    scale: Vec<f32>,
    scales: Vec<Vec<f32>>,
    early_ms: f64,
    /// By how many octaves a band gets louder from each block on, and how many blocks lie before the known instant.
    rises: Vec<f64>,
    blocks_before: f64,
}

impl Print {
    /// By how many octaves a band gets louder, `off_ms` after the known instant, than at any time of the 15 ms before:
    /// the one that does most.
    pub(crate) fn rise(&self, off_ms: f64) -> f64 {
        let block = (self.blocks_before + off_ms / BLOCK_MS - 1.0).round().max(0.0) as usize;
        self.rises.get(block).copied().unwrap_or(0.0)
    }
}

/// For each block the highest rise of a band, given the highest sample of each block by band.
fn rises(peaks: &[Vec<f32>]) -> Vec<f64> {
    let loudest = |p: &[f32], from: usize, to: usize| p[from..to.min(p.len())].iter().fold(SILENT, |m, p| m.max(*p));
    let rise = |p: &Vec<f32>, k: usize| loudest(p, k, k + NEW_BLOCKS) / loudest(p, k.saturating_sub(PAST_BLOCKS), k);
    let blocks = peaks.first().map_or(0, Vec::len);
    (0..blocks).map(|k| f64::from(peaks.iter().fold(0.0f32, |m, p| m.max(rise(p, k))).log2())).collect()
}

/// Log-likelihood ratio by how much later than its known instant the other note's attack is, if the one note's known
/// instant is right.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Match {
    /// Lag of the first value, ms.
    pub(crate) first_ms: f64,
    pub(crate) step_ms: f64,
    pub(crate) values: Vec<f32>,
}

impl Match {
    /// The value at a lag, on the line between its neighbours; 0 outside.
    #[cfg(test)]
    pub(crate) fn at(&self, lag_ms: f64) -> f64 {
        let place = (lag_ms - self.first_ms) / self.step_ms;
        if place.is_nan() || place < 0.0 {
            return 0.0;
        }
        let k = place as usize;
        let value = |k: usize| self.values.get(k).copied().map(f64::from);
        let Some(here) = value(k) else { return 0.0 };
        here + (value(k + 1).unwrap_or(here) - here) * (place - k as f64)
    }

    pub(crate) fn lag(&self, k: usize) -> f64 {
        self.first_ms + k as f64 * self.step_ms
    }
}

/// Compares the attacks of one take.
pub(crate) struct Alike {
    by: usize,
    /// Samples a second after lowering the rate.
    rate: f64,
    bands: Vec<[Section; 2]>,
    attack_n: usize,
    reach_n: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
}

impl Alike {
    pub(crate) fn new(take_rate: f64) -> Self {
        let by = factor(take_rate, RATE_HZ);
        let rate = take_rate / by as f64;
        let n = |ms: f64| (1e-3 * ms * rate).round() as usize;
        let (attack_n, reach_n) = (n(BEFORE_MS) + n(AFTER_MS), n(REACH_MS));
        let below = |hz: f64| hz < 0.5 * HIGHEST_EDGE * rate;
        let edges: Vec<f64> = EDGES_HZ.into_iter().filter(|e| below(*e)).collect();
        let bands = edges
            .iter()
            .enumerate()
            .map(|(i, low)| {
                let high = edges.get(i + 1).map_or(Section::PASS, |h| Section::low_pass(*h / rate));
                [Section::high_pass(*low / rate), high]
            })
            .collect();
        let size = (attack_n + 2 * reach_n).next_multiple_of(128);
        let (forward, back) = (takegauge_fourier::forward(size), takegauge_fourier::inverse(size));
        Self { by, rate, bands, attack_n, reach_n, forward, back }
    }

    /// The sound around an attack, `at` seconds into `stretch`; silence stands for what the take does not have.
    pub(crate) fn cut(&self, stretch: &[f32], take_rate: f64, at: f64) -> Cut {
        let decimated = decimate(stretch, take_rate, self.by).samples;
        let n = |ms: f64| (1e-3 * ms * self.rate).round() as i64;
        let centre = (at * self.rate).round();
        let from = centre as i64 - n(BEFORE_MS) - self.reach_n as i64 - n(RUN_IN_MS);
        let length = n(RUN_IN_MS) + (self.attack_n + 2 * self.reach_n) as i64;
        let sample = |i: i64| usize::try_from(i).ok().and_then(|i| decimated.get(i)).copied().unwrap_or(0.0);
        Cut { samples: (from..from + length).map(sample).collect(), early_ms: 1e3 * (centre / self.rate - at) }
    }

    pub(crate) fn print(&self, cut: &Cut) -> Print {
        let run_in = cut.samples.len() - (self.attack_n + 2 * self.reach_n);
        let mut print = Print {
            attack: Vec::new(),
            around: Vec::new(),
            scale: Vec::new(),
            scales: Vec::new(),
            early_ms: cut.early_ms,
            rises: Vec::new(),
            blocks_before: (RUN_IN_MS + REACH_MS + BEFORE_MS - cut.early_ms) / BLOCK_MS,
        };
        let block = ((1e-3 * BLOCK_MS * self.rate).round() as usize).max(1);
        let mut peaks = Vec::new();
        for [high_pass, low_pass] in &self.bands {
            let mut sound = cut.samples.clone();
            high_pass.run(&mut sound);
            low_pass.run(&mut sound);
            peaks.push(sound.chunks(block).map(|b| b.iter().fold(0.0f32, |m, x| m.max(x.abs()))).collect());
            let around = &sound[run_in..];
            let attack = &around[self.reach_n..self.reach_n + self.attack_n];
            let mut sum = 0.0f64;
            let sums: Vec<f64> = std::iter::once(0.0)
                .chain(around.iter().map(|x| {
                    sum += f64::from(*x) * f64::from(*x);
                    sum
                }))
                .collect();
            let scales: Vec<f32> = sums
                .iter()
                .zip(&sums[self.attack_n..])
                .map(|(a, b)| ((b - a).max(LEAST_ENERGY).sqrt().recip()) as f32)
                .collect();
            print.scale.push(scales.get(self.reach_n).copied().unwrap_or(0.0));
            print.scales.push(scales);
            print.attack.push(self.spectrum(attack));
            print.around.push(self.spectrum(around));
        }
        print.rises = rises(&peaks);
        print
    }

    fn spectrum(&self, x: &[f32]) -> Vec<Complex32> {
        let mut time = self.forward.make_input_vec();
        time[..x.len()].copy_from_slice(x);
        let mut spectrum = self.forward.make_output_vec();
        // Fails only on buffers of the wrong length, which these are not.
        let _ = self.forward.process(&mut time, &mut spectrum);
        spectrum
    }

    /// How well the two match: the attack of `one` with what lies around `other`, and the other way round. Attacks laid
    /// over the string's later periods match one way only. The mean of both.
    pub(crate) fn compare(&self, one: &Print, other: &Print) -> Match {
        let mut left = self.unexplained(one, other);
        let back = self.unexplained(other, one);
        // Laying the other one over so much later is laying this one over so much earlier.
        left.iter_mut().zip(back.iter().rev()).for_each(|(l, b)| *l *= b);
        Match {
            first_ms: -1e3 * self.reach_n as f64 / self.rate + other.early_ms - one.early_ms,
            step_ms: 1e3 / self.rate,
            values: left.iter().map(|l| -0.5 * l.ln()).collect(),
        }
    }

    /// Share of power that the attack of `one` does not explain in what lies around `other`, multiplied over the bands,
    /// by lag.
    fn unexplained(&self, one: &Print, other: &Print) -> Vec<f32> {
        let mut left = vec![1.0f32; 2 * self.reach_n + 1];
        let mut time = self.back.make_output_vec();
        for band in 0..self.bands.len() {
            let pairs = one.attack[band].iter().zip(&other.around[band]);
            let mut cross: Vec<Complex32> = pairs.map(|(a, b)| a.conj() * b).collect();
            // The ends of a real signal's spectrum are real; rounding may leave a trace that the transform refuses.
            if let [first, .., last] = cross.as_mut_slice() {
                (first.im, last.im) = (0.0, 0.0);
            }
            let _ = self.back.process(&mut cross, &mut time);
            let scale = one.scale[band] / time.len() as f32;
            for ((l, c), other) in left.iter_mut().zip(&time).zip(&other.scales[band]) {
                let r = (scale * c * other).clamp(0.0, HIGHEST);
                *l *= 1.0 - r * r;
            }
        }
        left
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tuning::alike::STRETCH_S;
    use std::f64::consts::TAU;

    const RATE: f64 = 44_100.0;

    /// A plucked sound that begins at `at` seconds into the stretch, over a tone that goes on.
    fn stretch(at: f64) -> Vec<f32> {
        let n = ((STRETCH_S.0 + STRETCH_S.1) * RATE) as usize;
        let pluck = |t: f64| (1..20).map(|k| (TAU * 196.0 * f64::from(k) * t).sin() * (-60.0 * t).exp()).sum::<f64>();
        (0..n)
            .map(|i| i as f64 / RATE)
            .map(|t| ((TAU * 331.0 * t).sin() + if t < at { 0.0 } else { pluck(t - at) }) as f32 * 0.1)
            .collect()
    }

    /// The lag at which two attacks match best, known `off` ms and `0` ms off their true instants.
    fn best(off_ms: f64) -> f64 {
        let alike = Alike::new(RATE);
        let cut = |at: f64, known: f64| alike.print(&alike.cut(&stretch(at), RATE, known));
        let (true_at, early) = (STRETCH_S.0, STRETCH_S.0 - 0.003_21);
        let m = alike.compare(&cut(true_at, true_at), &cut(early, early + 1e-3 * off_ms));
        let best = (0..m.values.len()).max_by(|a, b| m.values[*a].total_cmp(&m.values[*b])).unwrap_or(0);
        m.lag(best)
    }

    #[test]
    fn the_same_attack_is_found_where_it_is() {
        for off in [0.0, 2.5, -7.0, 12.3] {
            assert!((best(off) + off).abs() < 0.05, "{off}: {}", best(off));
        }
    }

    /// The transform against the plain sum.
    #[test]
    fn correlation_is_the_sum_that_it_stands_for() {
        let alike = Alike::new(RATE);
        let cut = alike.cut(&stretch(0.02), RATE, STRETCH_S.0);
        let other = alike.cut(&stretch(0.025), RATE, STRETCH_S.0);
        let m = alike.compare(&alike.print(&cut), &alike.print(&other));
        let banded = |c: &Cut, band: &[Section; 2]| {
            let mut x = c.samples.clone();
            band.iter().for_each(|s| s.run(&mut x));
            x.split_off(x.len() - alike.attack_n - 2 * alike.reach_n)
        };
        for lag in [0, 100, alike.reach_n, 2 * alike.reach_n] {
            let one_way = |one: &Cut, other: &Cut, lag: usize| -> f64 {
                let ratio = |band: &[Section; 2]| {
                    let (a, b) = (banded(one, band), banded(other, band));
                    let (a, b) = (&a[alike.reach_n..alike.reach_n + alike.attack_n], &b[lag..lag + alike.attack_n]);
                    let dot = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(a, b)| f64::from(a * b)).sum::<f64>();
                    let r = dot(a, b) / (dot(a, a) * dot(b, b)).sqrt();
                    -(1.0 - r.clamp(0.0, 0.999).powi(2)).ln()
                };
                alike.bands.iter().map(ratio).sum()
            };
            let sum = 0.5 * (one_way(&cut, &other, lag) + one_way(&other, &cut, 2 * alike.reach_n - lag));
            assert!((f64::from(m.values[lag]) - sum).abs() < 1e-3, "{lag}: {} {sum}", m.values[lag]);
        }
    }

    #[test]
    fn an_attack_rises_and_what_rings_does_not() {
        let alike = Alike::new(RATE);
        let print = alike.print(&alike.cut(&stretch(STRETCH_S.0), RATE, STRETCH_S.0));
        assert!(print.rise(0.0) > 1.0, "{}", print.rise(0.0));
        for off in [-15.0, -8.0, -4.0, 8.0, 15.0] {
            assert!(print.rise(off) < 0.2, "{off}: {}", print.rise(off));
        }
    }

    #[test]
    fn silence_and_low_rates_are_survived() {
        for rate in [8_000.0, 11_025.0, 44_100.0, 192_000.0] {
            let alike = Alike::new(rate);
            let silent = alike.print(&alike.cut(&[], rate, 0.0));
            let m = alike.compare(&silent, &silent);
            assert!(m.values.iter().all(|v| *v == 0.0) && m.at(1e9) == 0.0 && m.at(f64::NAN) == 0.0);
            assert_eq!(silent.rise(0.0), 0.0);
        }
    }
}
