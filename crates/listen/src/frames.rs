//! Windowed Fourier frames of the decimated signal, summed into bands of power.
//!
//! Frame n is centred on its sample n * hop * [`SPECTRUM_EVERY`]; samples before the take's start are zeros.

use crate::clock::Clock;
use crate::tuning::frames::{BANDS_PER_OCTAVE, HIGHEST_HZ, HIGHEST_SHARE, LOWEST_HZ, SPECTRUM_EVERY};
use std::ops::Range;
use std::sync::Arc;
use takegauge_fourier::{Complex32, RealToComplex, forward};

/// Cuts a stream of samples into overlapping frames.
pub(crate) struct Framer {
    clock: Clock,
    fft: Arc<dyn RealToComplex<f32>>,
    taper: Vec<f32>,
    bands: Vec<Range<usize>>,
    /// The first bin, and how many bands in a row are how many bins wide.
    first_bin: usize,
    runs: Vec<(usize, usize)>,
    out: Vec<f32>,
    /// Samples not yet used up; the first entry is the first sample of the next frame.
    pending: Vec<f32>,
    time: Vec<f32>,
    spectrum: Vec<Complex32>,
    scratch: Vec<Complex32>,
    power: Vec<f32>,
}

impl Framer {
    pub(crate) fn new(clock: Clock) -> Self {
        let n = clock.window;
        let fft = forward(n);
        let bands = band_edges(n, clock.spectrum_rate());
        let hann = |i: usize| 0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / n as f64).cos();
        Self {
            clock,
            taper: (0..n).map(|i| (hann(i) * 2.0 / n as f64) as f32).collect(),
            first_bin: bands.first().map_or(0, |b| b.start),
            runs: runs(&bands),
            out: vec![0.0; bands.len()],
            power: vec![0.0; bands.last().map_or(0, |b| b.end)],
            bands,
            pending: vec![0.0; n / 2],
            time: vec![0.0; n],
            spectrum: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
        }
    }

    /// How many bands a frame has.
    pub(crate) fn bands(&self) -> usize {
        self.bands.len()
    }

    /// Feeds samples; `each` gets the band powers (amplitude squared) of every frame that they complete.
    pub(crate) fn push(&mut self, samples: &[f32], mut each: impl FnMut(&[f32])) {
        self.pending.extend_from_slice(samples);
        let mut at = 0;
        while at + self.clock.window <= self.pending.len() {
            self.transform(at);
            each(&self.out);
            at += SPECTRUM_EVERY * self.clock.hop;
        }
        self.pending.drain(..at);
    }

    fn transform(&mut self, at: usize) {
        for ((t, x), w) in self.time.iter_mut().zip(&self.pending[at..]).zip(&self.taper) {
            *t = x * w;
        }
        // The lengths are the plan's own, so the transform cannot refuse them; a refusal would leave the last frame.
        if self.fft.process_with_scratch(&mut self.time, &mut self.spectrum, &mut self.scratch).is_err() {
            return;
        }
        for (p, z) in self.power.iter_mut().zip(&self.spectrum) {
            *p = z.re * z.re + z.im * z.im;
        }
        let (mut powers, mut out) = (&self.power[self.first_bin..], self.out.as_mut_slice());
        for (width, count) in &self.runs {
            let (now, later) = out.split_at_mut(*count);
            let (these, rest) = powers.split_at(width * count);
            match width {
                1 => now.copy_from_slice(these),
                2 => sum_each::<2>(these, now),
                3 => sum_each::<3>(these, now),
                4 => sum_each::<4>(these, now),
                5 => sum_each::<5>(these, now),
                6 => sum_each::<6>(these, now),
                _ => now.iter_mut().zip(these.chunks_exact(*width)).for_each(|(o, p)| *o = p.iter().sum()),
            }
            (out, powers) = (later, rest);
        }
    }
}

/// The sum of each `N` powers in a row.
fn sum_each<const N: usize>(powers: &[f32], out: &mut [f32]) {
    for (o, p) in out.iter_mut().zip(powers.as_chunks::<N>().0) {
        *o = p.iter().sum();
    }
}

/// (width, how many in a row) of bands that follow each other.
fn runs(bands: &[Range<usize>]) -> Vec<(usize, usize)> {
    bands.chunk_by(|a, b| a.len() == b.len()).map(|run| (run[0].len(), run.len())).collect()
}

/// Bins of each band: single bins while they are wider than a band, then [`BANDS_PER_OCTAVE`] an octave.
pub(crate) fn band_edges(n: usize, rate: f64) -> Vec<Range<usize>> {
    let bin_hz = rate / n as f64;
    let last = ((HIGHEST_HZ.min(HIGHEST_SHARE * rate) / bin_hz) as usize).min(n / 2).max(2);
    let ratio = 2f64.powf(1.0 / BANDS_PER_OCTAVE);
    let mut bands = Vec::new();
    let mut from = ((LOWEST_HZ / bin_hz).ceil() as usize).clamp(1, last - 1);
    while from < last {
        let to = ((from as f64 * ratio).round() as usize).clamp(from + 1, last);
        bands.push(from..to);
        from = to;
    }
    bands
}
