//! How strong a note's own partials are over time, heard through the notes around it.

use crate::dot::dot;
use crate::tuning::partials::{
    BIN_HZ, HIGHEST_HZ, HIGHEST_OF_RATE, HIGHEST_OTHER_HZ, LOWEST_HZ, MIDDLING_STIFFNESS, MOST_PARTIALS, PARTIALS_END,
    STIFFNESSES, TUNE_STEP_CENTS,
};
use crate::tuning::ringing::{AFTER_S, APART, BEFORE_S, HIGHEST_RATIO, HOP_S, LEAST_POWER, WEAKEST};
use std::f64::consts::TAU;

/// Where a string's partials lie: f_h = h f sqrt(1 + B h^2), B the stiffness (Fletcher & Rossing 1998, The Physics of
/// Musical Instruments, section 2.18).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Comb {
    pub(crate) hz: f64,
    pub(crate) stiffness: f64,
}

impl Comb {
    pub(crate) fn nominal(hz: f64) -> Self {
        Self { hz, stiffness: MIDDLING_STIFFNESS }
    }

    /// Frequencies of the partials whose harmonic lies below `until`.
    pub(crate) fn partials(self, until: f64) -> impl Iterator<Item = f64> {
        // A note has a frequency worth the name, so the list ends.
        let hz = self.hz.max(LOWEST_HZ);
        let stretched = move |h: f64| h * hz * (1.0 + self.stiffness * h * h).sqrt();
        (1..PARTIALS_END).map(f64::from).take_while(move |h| h * hz < until).map(stretched)
    }
}

/// A note that may sound within a trace; times in seconds after the attack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Sounding {
    pub(crate) comb: Comb,
    pub(crate) from: f64,
    pub(crate) to: f64,
}

/// A stretch of sound and where the attack is in it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stretch<'a> {
    pub(crate) samples: &'a [f32],
    pub(crate) rate: f64,
    /// Seconds from the first sample.
    pub(crate) attack: f64,
}

/// Level of a note over time, over its level just before the attack.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Trace {
    /// Amplitude ratios at `HOP_S` steps from `-BEFORE_S` on.
    pub(crate) ratio: Vec<f64>,
    /// How much each value counts, 0 (nothing free to hear) to 1.
    pub(crate) weight: Vec<f64>,
    /// Amplitude of the followed partials before the attack over that of the note's strongest one.
    pub(crate) share: f64,
    /// Amplitude of the followed partials before the attack, full scale 1.
    pub(crate) amplitude: f64,
}

/// Number of values in a trace.
pub(crate) fn steps() -> usize {
    ((BEFORE_S + AFTER_S) / HOP_S).round() as usize + 1
}

/// Time of a trace's value, seconds after the attack.
pub(crate) fn time(step: usize) -> f64 {
    step as f64 * HOP_S - BEFORE_S
}

impl Stretch<'_> {
    /// Amplitude of a tone around a time after the attack, through a Hann window; `None` beyond the stretch.
    fn amplitude(&self, tone: &Tone, at: f64) -> Option<f64> {
        let centre = ((self.attack + at) * self.rate).round();
        let from = centre - (tone.cos.len() / 2) as f64;
        if from < 0.0 {
            return None;
        }
        let window = self.samples.get(from as usize..from as usize + tone.cos.len())?;
        let (re, im) = (dot(window, &tone.cos), dot(window, &tone.sin));
        Some(2.0 * f64::from(re * re + im * im).sqrt())
    }

    /// Follows the partials of a note through windows of `length` seconds, leaving out at each time those that
    /// lie too near to a partial of another note sounding then, up to windows that end at `until` seconds after the
    /// attack. `None` where no partial is free before the attack.
    pub(crate) fn follow(&self, note: Comb, others: &[Sounding], length: f64, until: f64) -> Option<Trace> {
        let own: Vec<f64> = note.partials(HIGHEST_HZ.min(HIGHEST_OF_RATE * self.rate)).collect();
        let tones: Vec<Tone> = own.iter().map(|f| Tone::new(*f, length, self.rate)).collect();
        let near: Vec<Vec<bool>> = others.iter().map(|o| crowded(&own, o.comb, APART / length)).collect();
        let free = |h: usize, t: f64| {
            let heard = |o: &Sounding| t + 0.5 * length > o.from && t - 0.5 * length < o.to;
            !others.iter().zip(&near).any(|(o, near)| near[h] && heard(o))
        };
        // The last window that ends before the attack.
        let before = ((BEFORE_S - 0.5 * length) / HOP_S).floor().max(0.0) as usize;
        let reference: Vec<f64> = tones.iter().map(|t| self.amplitude(t, time(before)).unwrap_or(0.0)).collect();
        let strongest = reference.iter().fold(0.0f64, |m, a| m.max(*a));
        let usable: Vec<usize> = (0..own.len()).filter(|h| free(*h, time(before)) && reference[*h] > 0.0).collect();
        let best = usable.iter().fold(0.0f64, |m, h| m.max(reference[*h]));
        let usable: Vec<usize> = usable.into_iter().filter(|h| reference[*h] > WEAKEST * best).collect();
        let total: f64 = usable.iter().map(|h| reference[*h].powi(2)).sum();
        if total <= 0.0 {
            return None;
        }
        let (ratio, weight) = (0..steps())
            .map(|s| {
                if s < before || time(s) + 0.5 * length >= until {
                    return (0.0, 0.0);
                }
                let (mut now, mut then) = (0.0, 0.0);
                for h in usable.iter().filter(|h| free(**h, time(s))) {
                    if let Some(a) = self.amplitude(&tones[*h], time(s)) {
                        now += a * a;
                        then += reference[*h].powi(2);
                    }
                }
                if then > LEAST_POWER * total {
                    ((now / then).sqrt().min(HIGHEST_RATIO), (then / total).sqrt())
                } else {
                    (0.0, 0.0)
                }
            })
            .unzip();
        Some(Trace { ratio, weight, share: total.sqrt() / strongest, amplitude: total.sqrt() })
    }

    /// Fine tuning: the pitch within `cents` of `hz` and the stiffness whose partials are strongest, from `from` seconds
    /// after the attack on for `length` seconds.
    pub(crate) fn tune(&self, hz: f64, cents: f64, from: f64, length: f64) -> Comb {
        self.spectrum(from, length).map_or(Comb::nominal(hz), |s| s.best(hz, cents).1)
    }

    /// The spectrum of a Hann-windowed part, zeros added so that the bins lie close; `None` beyond the stretch.
    pub(crate) fn spectrum(&self, from: f64, length: f64) -> Option<Spectrum> {
        let start = ((self.attack + from) * self.rate).round();
        let n = (length * self.rate) as usize;
        if start < 0.0 || n == 0 {
            return None;
        }
        let part = self.samples.get(start as usize..start as usize + n)?;
        let size = ((self.rate / BIN_HZ) as usize).max(n).next_power_of_two();
        let fft = takegauge_fourier::forward(size);
        let mut input = fft.make_input_vec();
        let step = TAU / n as f64;
        let mut window = Turning::new(0.5, step);
        for (y, x) in input.iter_mut().zip(part) {
            *y = x * (1.0 - window.next().0) as f32;
        }
        let mut output = fft.make_output_vec();
        fft.process(&mut input, &mut output).ok()?;
        Some(Spectrum {
            roots: output.iter().map(|z| z.norm_sqr().sqrt().sqrt()).collect(),
            bin: self.rate / size as f64,
        })
    }
}

/// A spectrum on closely lying bins.
pub(crate) struct Spectrum {
    /// Square roots of the amplitudes: weak upper partials, which tell pitches apart best, count too.
    roots: Vec<f32>,
    /// Distance of two bins, Hz.
    bin: f64,
}

impl Spectrum {
    /// The strongest comb within `cents` of `hz`, and its strength: the mean over its first partials.
    pub(crate) fn best(&self, hz: f64, cents: f64) -> (f64, Comb) {
        let until = HIGHEST_HZ.min(HIGHEST_OF_RATE * self.bin * 2.0 * (self.roots.len() - 1) as f64);
        let unit = |stiffness| -> Vec<f64> {
            Comb { hz: 1e3, stiffness }.partials(f64::INFINITY).take(MOST_PARTIALS).collect()
        };
        let units = STIFFNESSES.map(unit);
        let steps = (cents / TUNE_STEP_CENTS).round() as i32;
        let mut best = (0.0, Comb::nominal(hz));
        for k in -steps..=steps {
            let tuned = (hz * 2f64.powf(f64::from(k) * TUNE_STEP_CENTS / 1200.0)).max(LOWEST_HZ);
            let n = ((until / tuned).ceil() as usize).saturating_sub(1).min(MOST_PARTIALS);
            for (stiffness, unit) in STIFFNESSES.iter().zip(&units) {
                let bins = unit.iter().take(n).map(|f| (f * (1e-3 * tuned / self.bin) + 0.5) as usize);
                let sum: f32 = bins.filter_map(|b| self.roots.get(b)).sum();
                let strength = f64::from(sum) / n.max(1) as f64;
                if strength > best.0 {
                    best = (strength, Comb { hz: tuned, stiffness: *stiffness });
                }
            }
        }
        best
    }
}

/// Which of `own` lie within `apart` Hz of a partial of another note.
fn crowded(own: &[f64], other: Comb, apart: f64) -> Vec<bool> {
    let theirs: Vec<f64> = other.partials(HIGHEST_OTHER_HZ).collect();
    own.iter().map(|f| theirs.iter().any(|g| (f - g).abs() < apart)).collect()
}

/// A windowed tone to compare sound with.
struct Tone {
    cos: Vec<f32>,
    sin: Vec<f32>,
}

impl Tone {
    fn new(hz: f64, length: f64, rate: f64) -> Self {
        let n = (length * rate) as usize | 1;
        let half = (n / 2) as f64;
        let mut window = Turning::new(-half, TAU / (length * rate));
        let mut tone = Turning::new(-half, TAU * hz / rate);
        let (mut cos, mut sin) = (Vec::with_capacity(n), Vec::with_capacity(n));
        for _ in 0..n {
            let w = (1.0 + window.next().0).max(0.0) / (length * rate);
            let (c, s) = tone.next();
            cos.push((w * c) as f32);
            sin.push((w * s) as f32);
        }
        Self { cos, sin }
    }
}

/// Cosine and sine of equal steps of an angle, each from the one before.
struct Turning {
    now: (f64, f64),
    step: (f64, f64),
}

impl Turning {
    fn new(from_steps: f64, step: f64) -> Self {
        let of = |angle: f64| (angle.cos(), angle.sin());
        Self { now: of(from_steps * step), step: of(step) }
    }

    fn next(&mut self) -> (f64, f64) {
        let ((c, s), (dc, ds)) = (self.now, self.step);
        self.now = (c * dc - s * ds, c * ds + s * dc);
        (c, s)
    }
}
