//! A room and an echo.

use takegauge_units::Millis;

/// Early reflections and a decaying tail: a feedback delay network of four lines with a Hadamard matrix (Jot & Chaigne
/// 1991, AES 90th Convention), about 0.35 s to fall by 60 dB, the high end sooner.
pub(crate) struct Room {
    level: f64,
    early: Line,
    taps: [(usize, f64); 5],
    lines: [Line; 4],
    low: [f64; 4],
    keep: [f64; 4],
}

struct Line {
    held: Vec<f64>,
    at: usize,
}

impl Line {
    fn new(len: usize) -> Self {
        Self { held: vec![0.0; len.max(1)], at: 0 }
    }

    fn oldest(&self) -> f64 {
        self.held.get(self.at).copied().unwrap_or(0.0)
    }

    /// `k` samples ago, before the next push; 1 is the newest.
    fn before(&self, k: usize) -> f64 {
        let len = self.held.len();
        self.held.get((self.at + len - k.clamp(1, len)) % len).copied().unwrap_or(0.0)
    }

    fn push(&mut self, x: f64) {
        if let Some(slot) = self.held.get_mut(self.at) {
            *slot = x;
        }
        self.at = if self.at + 1 >= self.held.len() { 0 } else { self.at + 1 };
    }
}

impl Room {
    pub(crate) fn new(level: f64, rate: f64) -> Self {
        const T60_S: f64 = 0.35;
        let ms = |m: f64| ((m * 1e-3 * rate).round() as usize).max(1);
        let delays = [23.7, 29.3, 33.1, 41.9];
        Self {
            level,
            early: Line::new(ms(20.0)),
            taps: [(ms(3.1), 0.6), (ms(5.3), -0.5), (ms(7.9), 0.4), (ms(11.3), 0.35), (ms(17.0), -0.3)],
            lines: delays.map(|d| Line::new(ms(d))),
            low: [0.0; 4],
            keep: delays.map(|d| 10f64.powf(-3.0 * d * 1e-3 / T60_S)),
        }
    }

    pub(crate) fn run(&mut self, x: f64) -> f64 {
        let early: f64 = self.taps.iter().map(|(k, g)| g * self.early.before(*k)).sum();
        self.early.push(x);
        let mut out = [0.0; 4];
        for (k, line) in self.lines.iter().enumerate() {
            self.low[k] += 0.6 * (line.oldest() - self.low[k]);
            out[k] = self.keep[k] * self.low[k];
        }
        let [a, b, c, d] = out;
        let mixed = [a + b + c + d, a - b + c - d, a + b - c - d, a - b - c + d];
        for (line, m) in self.lines.iter_mut().zip(mixed) {
            line.push(0.5 * m + x);
        }
        x + self.level * (early + 0.4 * (a + b + c + d))
    }
}

/// One repeat of the sound.
pub(crate) struct Echo {
    line: Line,
    level: f64,
}

impl Echo {
    pub(crate) fn new(delay: Millis, level: f64, rate: f64) -> Self {
        let s = if delay.0.is_finite() { (delay.0 * 1e-3).clamp(0.0, 10.0) } else { 0.0 };
        Self { line: Line::new((s * rate).round() as usize), level }
    }

    pub(crate) fn run(&mut self, x: f64) -> f64 {
        let y = x + self.level * self.line.oldest();
        self.line.push(x);
        y
    }
}
