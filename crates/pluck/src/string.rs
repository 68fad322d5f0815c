//! One plucked string: an extended Karplus-Strong loop (Jaffe & Smith 1983, Computer Music Journal 7(2):56-69).
//!
//! The loop is linear, so what a string still sounds from earlier plucks and what a new pluck brings add up: each pluck
//! has a loop of its own, and its edge in isolation is exactly what it adds to the take. The pluck itself is a function
//! of continuous time, so it can begin between two samples.

use crate::performance::Event;
use crate::sound::{Build, Sound};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::{PI, TAU};
use takegauge_drill::Sounding;

/// The force of the pick as it lets go: a few pulses that rise in the release time and die away, less the same once
/// more as it comes back from the bridge.
#[derive(Debug, Clone)]
struct Pluck {
    /// Samples.
    rise: f64,
    decay: f64,
    back: f64,
    /// Delay in samples and weight of each pulse: the pick's edge is never quite smooth.
    pulses: [(f64, f64); 3],
    ends: f64,
}

impl Pluck {
    fn new(event: &Event, build: &Build, rate: f64, period: f64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(u64::from(event.touch.grain));
        let ms = rate * 1e-3;
        let muted = if event.palm_muted || event.dead { 1.6 } else { 1.0 };
        // No shorter than the rate can carry.
        let rise = (event.touch.release.0.clamp(0.05, 10.0) * ms * muted).max(2.0);
        // Long strings are thick, and a thick string bends less sharply over the pick.
        let thick = 1.0 + period / (8.0 * ms);
        let decay = build.pulse_ms * thick * 2f64.powf(-event.touch.brightness) * ms * muted;
        let back = event.touch.place.clamp(0.02, 0.5) * period;
        let mut later = |w: f64| (rise * (0.5 + rng.random::<f64>()), w * (2.0 * rng.random::<f64>() - 1.0));
        let pulses = [(0.0, 1.0), later(0.25), later(0.15)];
        let last = pulses.iter().map(|p| p.0).fold(0.0, f64::max);
        Self { rise, decay, back, pulses, ends: last + back + rise + 14.0 * decay }
    }

    /// `t` samples after the pick begins to let go.
    fn at(&self, t: f64) -> f64 {
        if t <= 0.0 || t > self.ends {
            return 0.0;
        }
        self.pulses.iter().map(|(d, w)| w * (self.pulse(t - d) - self.pulse(t - d - self.back))).sum()
    }

    fn pulse(&self, t: f64) -> f64 {
        if t <= 0.0 {
            0.0
        } else if t < self.rise {
            0.5 - 0.5 * (PI * t / self.rise).cos()
        } else {
            (-(t - self.rise) / self.decay).exp()
        }
    }
}

/// Stages of the stiffness cascade.
const STAGES: usize = 4;

/// (c + z^-1) / (1 + c z^-1); c = 1 is a wire.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Allpass {
    c: f64,
    x: f64,
    y: f64,
}

impl Allpass {
    const WIRE: Self = Self { c: 1.0, x: 0.0, y: 0.0 };

    /// One stage for a string whose partials lie at k f0 sqrt(1 + b k^2) (Fletcher 1964, JASA 36:203-209); cascades of
    /// allpasses for this are due to Van Duyne & Smith 1994 (Proc. ICMC). With r = (1 - c) / (1 + c) a stage's phase
    /// delay is (2 / w) atan(r tan(w / 2)) = r - r (r^2 - 1) w^2 / 12 + ..., and the period of partial k is to shrink
    /// by N b k^2 / 2 with k = w N / 2 pi: hence r^3 - r = 12 N^3 b / (8 pi^2 stages). `None` where the string is too
    /// short for it.
    fn stiff(b: f64, period: f64) -> Option<Self> {
        let wanted = 12.0 * period.powi(3) * b / (8.0 * PI * PI * STAGES as f64);
        let mut r = 1.0 + wanted.cbrt();
        for _ in 0..8 {
            r -= (r * r * r - r - wanted) / (3.0 * r * r - 1.0);
        }
        (r.is_finite() && STAGES as f64 * r < 0.4 * period).then(|| Self { c: (1.0 - r) / (1.0 + r), ..Self::WIRE })
    }

    fn phase_delay(self, w: f64) -> f64 {
        let r = (1.0 - self.c) / (1.0 + self.c);
        2.0 / w * (r * (w / 2.0).tan()).atan()
    }

    fn run(&mut self, x: f64) -> f64 {
        let y = self.c * (x - self.y) + self.x;
        (self.x, self.y) = (x, y);
        y
    }
}

/// The string after one pluck, sample by sample, without end.
#[derive(Debug, Clone)]
pub(crate) struct Pulled {
    pluck: Pluck,
    /// The pluck begins so many samples after the first.
    delay: f64,
    n: f64,
    line: Vec<f64>,
    at: usize,
    /// Stiffness: a cascade of allpasses, with their states.
    stiff: [Allpass; STAGES],
    /// Loss filter g (1 - a) / (1 - a z^-1) with its state, and the tuning allpass.
    gain: f64,
    pole: f64,
    lossy: f64,
    tuned: Allpass,
    /// Pickup: whole samples, fraction, depth.
    tap: (usize, f64, f64),
}

impl Pulled {
    /// `delay` in samples, 0 or more.
    pub(crate) fn new(event: &Event, build: &Build, sound: &Sound, delay: f64) -> Self {
        let rate = sound.rate_rendered().as_f64();
        let f0 = sound.sounding(event.frequency);
        let period = rate / f0;
        let w0 = TAU / period;
        let (low, high) = decay_times(event, build, f0);
        let (gain, pole) = loss(f0, low, high, rate);
        let loss_delay = (pole * w0.sin()).atan2(1.0 - pole * w0.cos()) / w0;
        let stiff = Allpass::stiff(build.stiffness, period);
        let stiff_delay = stiff.map_or(0.0, |s| STAGES as f64 * s.phase_delay(w0));
        let rest = (period - loss_delay - stiff_delay).max(1.31);
        let whole = ((rest - 0.3).floor() as usize).max(1);
        let part = rest - whole as f64;
        // Exact phase delay `part` at w0 (first-order allpass; Jaffe & Smith 1983, section on tuning).
        let tune = ((1.0 - part) * w0 / 2.0).sin() / ((1.0 + part) * w0 / 2.0).sin();
        let tap = (build.pickup_at * period).min(whole as f64 - 1.0).max(0.0);
        Self {
            pluck: Pluck::new(event, build, rate, period),
            delay,
            n: 0.0,
            line: vec![0.0; whole],
            at: 0,
            gain,
            pole,
            stiff: [stiff.unwrap_or(Allpass::WIRE); STAGES],
            lossy: 0.0,
            tuned: Allpass { c: tune, ..Allpass::WIRE },
            tap: (tap.floor() as usize, tap.fract(), build.pickup_depth),
        }
    }

    pub(crate) fn next(&mut self) -> f64 {
        let len = self.line.len();
        let back = self.line.get(self.at).copied().unwrap_or(0.0);
        self.lossy = self.gain * (1.0 - self.pole) * back + self.pole * self.lossy;
        let spread =
            if self.stiff[0].c < 1.0 { self.stiff.iter_mut().fold(self.lossy, |x, s| s.run(x)) } else { self.lossy };
        let y = self.pluck.at(self.n - self.delay) + self.tuned.run(spread);
        self.n += 1.0;
        // The slot read is the oldest; the newest takes its place. y[n - k] stands k slots behind.
        let heard = {
            let (k, frac, depth) = self.tap;
            let before = |k: usize| match k {
                0 => y,
                k => self.line.get((self.at + len - k.min(len)) % len).copied().unwrap_or(0.0),
            };
            y - depth * ((1.0 - frac) * before(k) + frac * before(k + 1))
        };
        if let Some(slot) = self.line.get_mut(self.at) {
            *slot = y;
        }
        self.at = if self.at + 1 == len { 0 } else { self.at + 1 };
        heard
    }

    /// Samples one period lasts, nearly.
    pub(crate) fn period(&self) -> f64 {
        self.line.len() as f64 + 1.0
    }
}

/// Seconds to fall by 60 dB at the fundamental and at 4 kHz.
fn decay_times(event: &Event, build: &Build, f0: f64) -> (f64, f64) {
    let low = build.t60_low * (100.0 / f0).powf(0.4);
    let high = build.t60_high * (100.0 / f0).powf(0.2);
    match (event.dead, event.palm_muted, event.sounding) {
        (true, _, _) => (0.06, 0.02),
        (_, true, _) => (0.5f64.min(low), 0.1),
        (_, _, Sounding::Picked) => (low, high),
        _ => (low, 0.7 * high),
    }
}

/// Gain and pole of the loss filter, so that the loop decays in `low` seconds at DC and in `high` at 4 kHz (or 0.4 of
/// the rate): |g (1 - a) / (1 - a e^-jw)| solved for a.
fn loss(f0: f64, low: f64, high: f64, rate: f64) -> (f64, f64) {
    let a_round = |t60: f64| 10f64.powf(-3.0 / (f0 * t60.max(0.005)));
    let gain = a_round(low);
    let ratio = (a_round(high.min(0.99 * low)) / gain).clamp(1e-3, 1.0 - 1e-9);
    let c = (TAU * 4_000f64.min(0.4 * rate) / rate).cos();
    let r2 = ratio * ratio;
    let b = 1.0 - r2 * c;
    let a = (b - (b * b - (1.0 - r2) * (1.0 - r2)).max(0.0).sqrt()) / (1.0 - r2);
    (gain, a.clamp(0.0, 0.9))
}
