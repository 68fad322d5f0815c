//! Which pitch an attack brought: a comb on the partials that sound after it, less what sounded before.
//!
//! A semitone at G2 is 6 Hz and would need 340 ms to be told apart at the fundamental, while a fast step lasts 62 ms;
//! at the tenth partial it is 60 Hz. So all partials up to 4.2 kHz are weighed, each against the gap half-way to the
//! next, which tells a pitch from the octave below it.

use crate::clock::{Clock, smooth_even};
use crate::tuning::frames::HIGHEST_SHARE;
use crate::tuning::pitch::{
    AFTER_ATTACK_MS, BEFORE_ATTACK_MS, BEFORE_NEXT_MS, HIGHEST_HZ, KNEE, LONGEST_MS, LOWEST_HZ, PARTIALS, SHORTEST_MS,
    STANDING_SHARE, STEPS_PER_OCTAVE, STIFFNESS, TOLERANCE_CENTS, WEIGHT_POWER,
};
use std::sync::Arc;
use takegauge_fourier::{Complex32, RealToComplex, forward};
use takegauge_units::{FIRST_KEY, Hertz, KEYS, MidiKey, PitchEvidence};

/// Bins of one partial of a key and of the gap above it.
struct Tooth {
    partial: (usize, usize),
    gap: (usize, usize),
    weight: f32,
}

/// Weighs pitches.
pub(crate) struct PitchEar {
    rate: f64,
    n: usize,
    fft: Arc<dyn RealToComplex<f32>>,
    combs: Vec<Vec<Tooth>>,
    time: Vec<f32>,
    spectrum: Vec<Complex32>,
    scratch: Vec<Complex32>,
    after: Vec<f32>,
    before: Vec<f32>,
}

impl PitchEar {
    pub(crate) fn new(clock: Clock) -> Self {
        let rate = clock.spectrum_rate();
        let n = smooth_even((LONGEST_MS * 1e-3 * rate).round() as usize);
        let fft = forward(n);
        Self {
            rate,
            n,
            combs: (0..KEYS).map(|k| comb(MidiKey(FIRST_KEY + k as u8), n, rate)).collect(),
            time: vec![0.0; n],
            spectrum: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            after: vec![0.0; n / 2 + 1],
            before: vec![0.0; n / 2 + 1],
            fft,
        }
    }

    /// The evidence for an attack at `at` (in samples of `signal`, which runs at the spectrum's rate); `next` is where
    /// the next attack may be.
    pub(crate) fn weigh(&mut self, signal: &[f32], at: f64, next: f64) -> PitchEvidence {
        let ms = 1e-3 * self.rate;
        let room = next - at - (AFTER_ATTACK_MS + BEFORE_NEXT_MS) * ms;
        let length = (room.clamp(SHORTEST_MS * ms, LONGEST_MS * ms) as usize).min(self.n);
        let mut after = std::mem::take(&mut self.after);
        let mut before = std::mem::take(&mut self.before);
        self.magnitudes(signal, at + AFTER_ATTACK_MS * ms, length, &mut after);
        self.magnitudes(signal, at - BEFORE_ATTACK_MS * ms - length as f64, length, &mut before);
        let knee = KNEE * after.iter().fold(0.0f32, |m, x| m.max(*x));
        if knee > 0.0 && knee.is_finite() {
            for (a, b) in after.iter_mut().zip(&before) {
                let (now, then) = ((1.0 + *a / knee).log2(), (1.0 + b / knee).log2());
                *a = STANDING_SHARE * now + (now - then).max(0.0);
            }
        } else {
            after.fill(0.0);
        }
        let mut evidence = PitchEvidence::NONE;
        for (e, teeth) in evidence.0.iter_mut().zip(&self.combs) {
            let top = |(from, to): (usize, usize)| after[from..to].iter().fold(0.0f32, |m, x| m.max(*x));
            let sum: f32 = teeth.iter().map(|t| t.weight * (top(t.partial) - top(t.gap))).sum();
            *e = (sum * STEPS_PER_OCTAVE).round().clamp(0.0, 255.0) as u8;
        }
        (self.after, self.before) = (after, before);
        evidence
    }

    /// Amplitudes of the `length` samples from `from` on (zeros beyond the signal), Hann-tapered, into `out`.
    fn magnitudes(&mut self, signal: &[f32], from: f64, length: usize, out: &mut [f32]) {
        let from = from.round() as i64;
        // The taper by a turning phasor: sin^2 of half the angle.
        let (step_sin, step_cos) = (std::f64::consts::TAU / length as f64).sin_cos();
        let (mut s, mut c) = (std::f64::consts::PI / length as f64).sin_cos();
        self.time.fill(0.0);
        for (i, t) in self.time[..length].iter_mut().enumerate() {
            let x = usize::try_from(from + i as i64).ok().and_then(|j| signal.get(j)).copied().unwrap_or(0.0);
            *t = x * (0.5 - 0.5 * c) as f32;
            (s, c) = (s * step_cos + c * step_sin, c * step_cos - s * step_sin);
        }
        out.fill(0.0);
        // The lengths are the plan's own, so the transform cannot refuse them; a refusal would leave silence.
        if self.fft.process_with_scratch(&mut self.time, &mut self.spectrum, &mut self.scratch).is_ok() {
            for (o, z) in out.iter_mut().zip(&self.spectrum) {
                *o = (z.re * z.re + z.im * z.im).sqrt();
            }
        }
    }
}

fn comb(key: MidiKey, n: usize, rate: f64) -> Vec<Tooth> {
    let f0 = key.frequency(Hertz(440.0)).0;
    let place = |h: f64| h * f0 * (1.0 + STIFFNESS * h * h).sqrt();
    let cents = 2f64.powf(TOLERANCE_CENTS / 1_200.0);
    let bins = |hz: f64| {
        let from = ((hz / cents * n as f64 / rate) as usize).min(n / 2 - 1);
        (from, ((hz * cents * n as f64 / rate).ceil() as usize + 1).clamp(from + 2, n / 2 + 1))
    };
    let all: f64 = (1..=PARTIALS).map(|h| (h as f64).powf(WEIGHT_POWER)).sum();
    (1..=PARTIALS)
        .map(|h| h as f64)
        .filter(|h| (LOWEST_HZ..HIGHEST_HZ.min(HIGHEST_SHARE * rate)).contains(&place(*h)))
        .map(|h| Tooth {
            partial: bins(place(h)),
            gap: bins(place(h + 0.5)),
            weight: (h.powf(WEIGHT_POWER) / all) as f32,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_units::SampleRate;

    /// A tone of ten partials after half a second of another or of silence.
    fn change(clock: Clock, from: Option<u8>, to: u8) -> Vec<f32> {
        let rate = clock.spectrum_rate();
        let tone = |key: u8, t: f64| {
            let f = MidiKey(key).frequency(Hertz(440.0)).0;
            (1..=10).map(|h| (std::f64::consts::TAU * f * h as f64 * t).sin() / h as f64).sum::<f64>()
        };
        (0..rate as usize)
            .map(|i| i as f64 / rate)
            .map(|t| if t >= 0.5 { tone(to, t) } else { from.map_or(0.0, |k| tone(k, t)) } as f32)
            .collect()
    }

    #[test]
    fn hears_steps_of_a_semitone_in_62_ms() {
        for hz in [11_025u32, 44_100, 48_000, 96_000] {
            let clock = Clock::new(SampleRate::new(hz).unwrap());
            let mut ear = PitchEar::new(clock);
            for to in (43..76).step_by(3) {
                for from in [None, Some(to - 1), Some(to + 1), Some(to - 5)] {
                    let x = change(clock, from, to);
                    let at = 0.5 * clock.spectrum_rate();
                    let e = ear.weigh(&x, at, at + 0.062 * clock.spectrum_rate());
                    assert_eq!(e.best(), Some(MidiKey(to)), "{hz} Hz, {from:?} to {to}");
                }
            }
        }
    }

    #[test]
    fn silence_says_nothing() {
        let clock = Clock::new(SampleRate::new(44_100).unwrap());
        let mut ear = PitchEar::new(clock);
        assert_eq!(ear.weigh(&[0.0; 4000], 2000.0, 4000.0), PitchEvidence::NONE);
        assert_eq!(ear.weigh(&[], 0.0, 0.0), PitchEvidence::NONE);
    }
}
