//! What only a spectrum shows: hiss, hum, and the copies that a delay effect makes.

use super::histogram::{LevelHistogram, power_of_db};
use std::sync::Arc;
use takegauge_fourier::{Complex32, RealToComplex, forward};
use takegauge_stats::robust::upper_median;

/// A windowed transform of one length with its buffers.
struct Transform {
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    output: Vec<Complex32>,
    scratch: Vec<Complex32>,
}

impl Transform {
    /// Hann over `window` samples, padded with zeros to `len`.
    fn new(window: usize, len: usize) -> Self {
        let fft = forward(len);
        let step = std::f64::consts::TAU / window as f64;
        Self {
            window: (0..window).map(|i| (0.5 - 0.5 * (step * i as f64).cos()) as f32).collect(),
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
        }
    }

    /// The spectrum of as many samples as the window has.
    fn run(&mut self, samples: &[f32]) -> &[Complex32] {
        self.input.fill(0.0);
        for ((slot, x), w) in self.input.iter_mut().zip(samples).zip(&self.window) {
            *slot = x * w;
        }
        // The buffers came from the plan itself, which is all that it can refuse.
        if self.fft.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch).is_err() {
            self.output.fill(Complex32::default());
        }
        &self.output
    }
}

/// Broadband noise: snippets of 2,048 samples four times a second, of each the middle one of the bins between 4 and
/// 12 kHz, where a plucked string's partials are few; then the quiet end over time.
pub(crate) struct HissMeter {
    transform: Transform,
    snippet: Vec<f32>,
    hop: u64,
    at: u64,
    band: std::ops::Range<usize>,
    levels: LevelHistogram,
}

const SNIPPET: usize = 2048;

impl HissMeter {
    pub(crate) fn new(rate_hz: u32) -> Self {
        let rate = f64::from(rate_hz);
        let bin = |hz: f64| (hz / rate * SNIPPET as f64) as usize;
        Self {
            transform: Transform::new(SNIPPET, SNIPPET),
            snippet: Vec::with_capacity(SNIPPET),
            hop: u64::from(rate_hz / 4).max(SNIPPET as u64),
            at: 0,
            band: bin((0.25 * rate).min(4000.0))..bin((0.45 * rate).min(12_000.0)),
            levels: LevelHistogram::new(),
        }
    }

    pub(crate) fn push(&mut self, mut block: &[f32]) {
        while !block.is_empty() {
            let phase = self.at % self.hop;
            let room = SNIPPET as u64;
            let n = if phase < room { room - phase } else { self.hop - phase }.min(block.len() as u64) as usize;
            if phase < room {
                self.snippet.extend_from_slice(&block[..n]);
                if self.snippet.len() == SNIPPET {
                    self.measure();
                    self.snippet.clear();
                }
            }
            self.at += n as u64;
            block = &block[n..];
        }
    }

    fn measure(&mut self) {
        // Digital silence holds no noise to measure.
        if self.snippet.iter().filter(|x| **x == 0.0).count() > SNIPPET / 2 {
            return;
        }
        let spectrum = self.transform.run(&self.snippet);
        let bins = spectrum[self.band.clone()].iter().map(|c| f64::from(c.norm_sqr()));
        // White noise of power p has the mean |X|^2 = p * sum(w^2), sum(w^2) = 3/8 N for Hann; exponentially
        // distributed, so that its median is ln 2 of that.
        let power = upper_median(bins).unwrap_or(0.0) / (0.375 * SNIPPET as f64) / std::f64::consts::LN_2;
        self.levels.add_power(power);
    }

    /// Broadband noise as if it were white over the whole band, dBFS: at most this, if the take never rests.
    pub(crate) fn level_db(&self) -> Option<f64> {
        self.levels.quantile_db(0.05)
    }
}

/// Mains hum: lines at 50 or 60 Hz and their multiples that stand out in the quiet tenth of all seconds.
pub(crate) struct HumMeter {
    transform: Transform,
    buffer: Vec<f32>,
    len: usize,
    rate: f64,
    lines: Vec<Line>,
}

struct Line {
    hz: f64,
    level: LevelHistogram,
    around: LevelHistogram,
}

/// Mains frequencies, Hz, and how many multiples of each are looked at.
const MAINS_HZ: [f64; 2] = [50.0, 60.0];
const MULTIPLES: usize = 6;
/// A line stands out from this on, dB, and matters from this on, dBFS.
const OUTSTANDING_DB: f64 = 10.0;
const AUDIBLE_DBFS: f64 = -75.0;
const HUM_FFT: usize = 2048;

impl HumMeter {
    /// For a stream at `rate` Hz, 1,350 to 2,000 Hz.
    pub(crate) fn new(rate: f64) -> Self {
        let len = (rate.round() as usize).clamp(16, HUM_FFT);
        let lines = MAINS_HZ.iter().flat_map(|f| (1..=MULTIPLES).map(move |k| f * k as f64));
        Self {
            transform: Transform::new(len, HUM_FFT),
            buffer: Vec::with_capacity(len),
            len,
            rate,
            lines: lines.map(|hz| Line { hz, level: LevelHistogram::new(), around: LevelHistogram::new() }).collect(),
        }
    }

    pub(crate) fn push(&mut self, x: f32) {
        self.buffer.push(x);
        if self.buffer.len() == self.len {
            self.measure();
            // Half a window onward.
            self.buffer.drain(..self.len / 2);
        }
    }

    fn measure(&mut self) {
        if self.buffer.iter().all(|x| *x == 0.0) {
            return;
        }
        let spectrum = self.transform.run(&self.buffer);
        // A sine of amplitude a has |X| = a * sum(w) / 2 = a * len / 4, and the power a^2 / 2.
        let scale = 8.0 / (self.len as f64 * self.len as f64);
        let bin = |hz: f64| ((hz / self.rate * HUM_FFT as f64).round() as usize).min(spectrum.len() - 1);
        for line in &mut self.lines {
            let peak =
                spectrum[bin(line.hz - 0.7)..=bin(line.hz + 0.7)].iter().map(|c| c.norm_sqr()).fold(0.0, f32::max);
            let sides = [bin(line.hz - 9.0)..bin(line.hz - 3.0), bin(line.hz + 3.0)..bin(line.hz + 9.0)];
            let around = sides.into_iter().flat_map(|side| &spectrum[side]).map(|c| f64::from(c.norm_sqr()));
            line.level.add_power(f64::from(peak) * scale);
            line.around.add_power(upper_median(around).unwrap_or(0.0) * scale);
        }
    }

    /// Mains frequency (Hz) and level (dBFS) of the hum, where two lines or more of one series stand out.
    pub(crate) fn hum(&self) -> Option<(f64, f64)> {
        let mut best: Option<(f64, f64)> = None;
        for (mains, lines) in MAINS_HZ.iter().zip(self.lines.chunks(MULTIPLES)) {
            let standing: Vec<f64> = lines
                .iter()
                .filter_map(|l| {
                    let (level, around) = (l.level.quantile_db(0.1)?, l.around.quantile_db(0.1)?);
                    let stands = l.level.len() >= 3 && level - around >= OUTSTANDING_DB && level > AUDIBLE_DBFS;
                    // Notes add to a line as often as they take from it: the level itself is the lower third.
                    if stands { l.level.quantile_db(0.33) } else { None }
                })
                .collect();
            let power: f64 = standing.iter().map(|db| power_of_db(*db)).sum();
            if standing.len() >= 2 && best.is_none_or(|b| power > power_of_db(b.1)) {
                best = Some((*mains, super::histogram::db_of_power(power)));
            }
        }
        best
    }
}

/// Copies of the sound at one fixed distance, by the mean cepstrum (Bogert, Healy, Tukey 1963): a copy `a` times as
/// loud after a time D adds a ripple to the log spectrum, whose transform has a line of height a at D. A click that
/// bleeds into the take comes back at one distance, too; hands do not, to a tenth of a millisecond.
pub(crate) struct EchoMeter {
    forward: Transform,
    back: Arc<dyn RealToComplex<f32>>,
    rate: f64,
    buffer: Vec<f32>,
    sum: Vec<f64>,
    windows: u32,
}

const ECHO_LEN: usize = 16_384;
/// Enough to judge by: a minute and a half of sound.
const ECHO_WINDOWS: u32 = 60;
/// Distances looked at, seconds: shorter ones are the room, longer ones do not fit the window.
const ECHO_S: (f64, f64) = (0.06, 0.7);
/// Height of the cepstrum from which a copy is reported, at least, and for one window: noise falls with their root.
const ECHO_HEIGHT: (f64, f64) = (0.1, 0.35);
/// A copy is a line, and not a hill: so many times the mean height within 2 ms.
const ECHO_SHARP: f64 = 4.0;

impl EchoMeter {
    /// For a stream at `rate` Hz, about 11 kHz.
    pub(crate) fn new(rate: f64) -> Self {
        Self {
            forward: Transform::new(ECHO_LEN, ECHO_LEN),
            back: forward(ECHO_LEN),
            rate,
            buffer: Vec::with_capacity(ECHO_LEN),
            sum: vec![0.0; ECHO_LEN / 2 + 1],
            windows: 0,
        }
    }

    pub(crate) fn push(&mut self, x: f32) {
        self.buffer.push(x);
        if self.buffer.len() == ECHO_LEN {
            let power = self.buffer.iter().map(|x| x * x).sum::<f32>() / ECHO_LEN as f32;
            if power > 1e-6 {
                self.measure();
            }
            self.buffer.clear();
        }
    }

    pub(crate) fn wants_more(&self) -> bool {
        self.windows < ECHO_WINDOWS
    }

    fn measure(&mut self) {
        let spectrum = self.forward.run(&self.buffer);
        let mean = spectrum.iter().map(|c| c.norm_sqr()).sum::<f32>() / spectrum.len() as f32;
        let logs: Vec<f32> = spectrum.iter().map(|c| (c.norm_sqr() + 1e-7 * mean).ln()).collect();
        // The log spectrum is even, so that a forward transform of it is the inverse one, up to 1/N.
        let mut even: Vec<f32> = logs.iter().chain(logs[1..logs.len() - 1].iter().rev()).copied().collect();
        let mut cepstrum = self.back.make_output_vec();
        if self.back.process(&mut even, &mut cepstrum).is_ok() {
            for (sum, c) in self.sum.iter_mut().zip(&cepstrum) {
                *sum += f64::from(c.re) / ECHO_LEN as f64;
            }
            self.windows += 1;
        }
    }

    /// Distance (ms) and level (dB against the sound itself) of the strongest copy, if there is one.
    pub(crate) fn echo(&self) -> Option<(f64, f64)> {
        let (at, height) = self.strongest()?;
        let enough = ECHO_HEIGHT.0.max(ECHO_HEIGHT.1 / f64::from(self.windows).sqrt());
        let reach = (0.002 * self.rate) as usize;
        let hill = &self.sum[at.saturating_sub(reach)..(at + reach + 1).min(self.sum.len())];
        // Three bins' height against what three bins of the hill have without them.
        let foot = (hill.iter().map(|c| c.abs()).sum::<f64>() / f64::from(self.windows) - height).max(0.0);
        let beside = 3.0 * foot / hill.len().saturating_sub(3).max(1) as f64;
        (height >= enough && height >= ECHO_SHARP * beside)
            .then(|| (at as f64 / self.rate * 1e3, 20.0 * height.min(1.0).log10()))
    }

    fn strongest(&self) -> Option<(usize, f64)> {
        let n = f64::from(self.windows);
        let bin = |s: f64| ((s * self.rate) as usize).min(self.sum.len());
        let range = bin(ECHO_S.0)..bin(ECHO_S.1);
        let first = range.start;
        if self.windows == 0 {
            return None;
        }
        // Three bins together: a copy lies between samples of the thinned stream.
        let best = self.sum[range].windows(3).map(|w| w.iter().sum::<f64>() / n).enumerate();
        best.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, h)| (first + i + 1, h))
    }
}
