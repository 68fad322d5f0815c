//! Somebody talks while the drill is played: a voice by source and filter, syllable after syllable. No words.
//!
//! The source is the derivative of a glottal pulse whose pitch falls along the phrase and bends in every syllable, or
//! noise; the filter is a cascade of resonators (Klatt 1980, J. Acoust. Soc. Am. 67:971-995) at the formants of vowels
//! (means of men: Peterson & Barney 1952, J. Acoust. Soc. Am. 24:175-184), each gliding to the next vowel's.

use crate::sound::{NOTE_PEAK, Speech};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::{PI, TAU};

/// First three formants of ten vowels, Hz.
const VOWELS: [[f64; 3]; 10] = [
    [270.0, 2290.0, 3010.0],
    [390.0, 1990.0, 2550.0],
    [530.0, 1840.0, 2480.0],
    [660.0, 1720.0, 2410.0],
    [730.0, 1090.0, 2440.0],
    [570.0, 840.0, 2410.0],
    [440.0, 1020.0, 2240.0],
    [300.0, 870.0, 2240.0],
    [640.0, 1190.0, 2390.0],
    [490.0, 1350.0, 1690.0],
];
/// The fourth formant, and how wide the four are, Hz (Klatt 1980, table II).
const FOURTH_HZ: f64 = 3_300.0;
const WIDTHS_HZ: [f64; 4] = [60.0, 90.0, 150.0, 250.0];
/// Above this pitch a speaker is small: formants lie 15 % higher (women against men in Peterson & Barney).
const SMALL_FROM_HZ: f64 = 160.0;
const SMALL: f64 = 1.15;
/// Syllables a second (running speech, the usual range), syllables of a phrase, and the breath after it, seconds.
const SYLLABLES_A_SECOND: (f64, f64) = (4.0, 6.0);
const PHRASE: (f64, f64) = (4.0, 11.0);
const BREATH_S: (f64, f64) = (0.25, 0.8);
/// The pitch at a phrase's beginning and end, and how far a syllable bends it, over its middle.
const FALLS: (f64, f64) = (1.18, 0.85);
const BENDS: f64 = 0.12;
/// Formants move to where they go within so long, seconds, and are set anew so often.
const GLIDE_S: f64 = 0.05;
const SET_EVERY_S: f64 = 0.002;
/// What makes a usual vowel's peak 1: found on ten seconds of each of fifty speakers.
const VOWEL_GAIN: f64 = 0.67;

/// How a syllable begins.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Onset {
    /// The voice alone, out of nothing.
    Vowel,
    /// p, t, k: silence, a burst, breath.
    Stop,
    /// b, d, g: silence, a weaker burst, the voice at once.
    VoicedStop,
    /// s, f, sh: a long noise.
    Fricative,
    /// m, n, l: the voice, dull and soft.
    Nasal,
}

/// What sounds at an instant of a syllable: amplitude of the voice, of noise through the vowel, of noise past it.
struct Mix {
    voice: f64,
    breath: f64,
    hiss: f64,
}

struct Syllable {
    onset: Onset,
    /// Samples: so far, in all, and up to the vowel.
    n: f64,
    length: f64,
    opens: f64,
    bend: f64,
    stress: f64,
    /// How fast the voice comes and goes, samples.
    rise: f64,
    fall: f64,
    goal: [f64; 3],
    hiss: Resonator,
}

/// A two-pole resonator of gain 1 at 0 Hz.
#[derive(Debug, Clone, Copy, Default)]
struct Resonator {
    abc: [f64; 3],
    y: [f64; 2],
}

impl Resonator {
    fn set(&mut self, hz: f64, width_hz: f64, rate: f64) {
        let r = (-PI * width_hz / rate).exp();
        let b = 2.0 * r * (TAU * hz.min(0.45 * rate) / rate).cos();
        let c = -r * r;
        self.abc = [1.0 - b - c, b, c];
    }

    fn run(&mut self, x: f64) -> f64 {
        let y = self.abc[0] * x + self.abc[1] * self.y[0] + self.abc[2] * self.y[1];
        self.y = [y, self.y[0]];
        y
    }
}

/// A voice that goes on and on.
pub(crate) struct Speaking {
    rng: ChaCha8Rng,
    rate: f64,
    level: f64,
    pitch_hz: f64,
    size: f64,
    /// Syllables of the phrase: so far and in all.
    phrase: (f64, f64),
    wait: f64,
    phase: f64,
    jitter: f64,
    now: Option<Syllable>,
    formants: [f64; 3],
    tract: [Resonator; 4],
    until_set: f64,
    last_white: f64,
}

impl Speaking {
    pub(crate) fn new(speech: &Speech, rate: f64) -> Self {
        let level = if speech.level.0.is_finite() { speech.level.0.clamp(-60.0, 20.0) } else { -60.0 };
        let pitch_hz = if speech.pitch.0.is_finite() { speech.pitch.0.clamp(60.0, 400.0) } else { 120.0 };
        let mut rng = ChaCha8Rng::seed_from_u64(speech.seed);
        let wait = 0.5 * rng.random::<f64>() * rate;
        Self {
            rng,
            rate,
            level: VOWEL_GAIN * NOTE_PEAK.amplitude() * 10f64.powf(level / 20.0),
            pitch_hz,
            size: if pitch_hz > SMALL_FROM_HZ { SMALL } else { 1.0 },
            phrase: (0.0, 0.0),
            wait,
            phase: 0.0,
            jitter: 1.0,
            now: None,
            formants: VOWELS[8],
            tract: [Resonator::default(); 4],
            until_set: 0.0,
            last_white: 0.0,
        }
    }

    fn between(&mut self, (low, high): (f64, f64)) -> f64 {
        low + (high - low) * self.rng.random::<f64>()
    }

    pub(crate) fn next(&mut self) -> f64 {
        if self.now.is_none() {
            self.wait -= 1.0;
            if self.wait > 0.0 {
                return 0.0;
            }
            let next = self.begin();
            self.now = Some(next);
        }
        let white = 2.0 * self.rng.random::<f64>() - 1.0;
        let Some(mut s) = self.now.take() else { return 0.0 };
        self.glide(&s);
        let mix = s.mix(self.rate);
        let voice = self.glottis(&s);
        let mut y = mix.voice * voice + mix.breath * white;
        y = self.tract.iter_mut().fold(y, |y, r| r.run(y));
        // A hiss is made at the teeth, past the tract; the difference of neighbours has no low end.
        y += mix.hiss * s.hiss.run(white - self.last_white);
        self.last_white = white;
        s.n += 1.0;
        let over = s.n >= s.length;
        let stress = s.stress;
        if over {
            self.after();
        } else {
            self.now = Some(s);
        }
        self.level * stress * y
    }

    /// What comes after a syllable: the next, or a breath.
    fn after(&mut self) {
        self.phrase.0 += 1.0;
        self.wait = 0.0;
        if self.phrase.0 >= self.phrase.1 {
            self.wait = self.between(BREATH_S) * self.rate;
        }
    }

    fn begin(&mut self) -> Syllable {
        if self.phrase.0 >= self.phrase.1 {
            self.phrase = (0.0, self.between(PHRASE).round());
        }
        let u: [f64; 5] = self.rng.random();
        let onset = match u[0] {
            x if x < 0.15 => Onset::Vowel,
            x if x < 0.40 => Onset::Stop,
            x if x < 0.60 => Onset::VoicedStop,
            x if x < 0.80 => Onset::Fricative,
            _ => Onset::Nasal,
        };
        let length = self.rate / self.between(SYLLABLES_A_SECOND);
        let opens = match onset {
            Onset::Vowel => 0.0,
            Onset::Stop => 0.07 + 0.03 * u[1],
            Onset::VoicedStop => 0.05 + 0.02 * u[1],
            Onset::Fricative => 0.06 + 0.05 * u[1],
            Onset::Nasal => 0.05 + 0.03 * u[1],
        } * self.rate;
        let mut hiss = Resonator::default();
        // From the lips (dull) to the teeth (sharp).
        hiss.set(1_500.0 + 5_000.0 * u[2], 1_200.0, self.rate);
        let rise = match onset {
            Onset::Stop | Onset::VoicedStop => (0.006, 0.015),
            Onset::Vowel => (0.015, 0.05),
            Onset::Fricative | Onset::Nasal => (0.01, 0.03),
        };
        let goal = VOWELS[((u[3] * VOWELS.len() as f64) as usize).min(VOWELS.len() - 1)];
        Syllable {
            onset,
            n: 0.0,
            length,
            opens,
            bend: BENDS * (2.0 * u[4] - 1.0),
            stress: 10f64.powf(self.between((-6.0, 2.0)) / 20.0),
            rise: self.between(rise) * self.rate,
            fall: self.between((0.02, 0.05)) * self.rate,
            goal: goal.map(|f| f * self.size),
            hiss,
        }
    }

    /// Moves the formants toward the syllable's vowel.
    fn glide(&mut self, s: &Syllable) {
        self.until_set -= 1.0;
        if self.until_set > 0.0 {
            return;
        }
        self.until_set = SET_EVERY_S * self.rate;
        let share = SET_EVERY_S / GLIDE_S * 3.0;
        for (f, goal) in self.formants.iter_mut().zip(s.goal) {
            *f += share.min(1.0) * (goal - *f);
        }
        let [a, b, c] = self.formants;
        for ((r, hz), width) in self.tract.iter_mut().zip([a, b, c, FOURTH_HZ * self.size]).zip(WIDTHS_HZ) {
            r.set(hz, width, self.rate);
        }
    }

    /// The derivative of the flow through the glottis: opens over 40 % of a period, closes over 16 % (Rosenberg 1971,
    /// J. Acoust. Soc. Am. 49:583-590), to -1 where it shuts.
    fn glottis(&mut self, s: &Syllable) -> f64 {
        const OPENS: f64 = 0.40;
        const SHUTS: f64 = 0.56;
        let along = (self.phrase.0 + s.n / s.length) / self.phrase.1.max(1.0);
        let falls = FALLS.0 + (FALLS.1 - FALLS.0) * along.min(1.0);
        let hz = self.pitch_hz * falls * (1.0 + s.bend * (PI * s.n / s.length).sin()) * self.jitter;
        self.phase += hz / self.rate;
        if self.phase >= 1.0 {
            self.phase = self.phase.fract();
            self.jitter = 1.0 + 0.01 * (2.0 * self.rng.random::<f64>() - 1.0);
        }
        match self.phase {
            p if p < OPENS => 6.0 * p / OPENS * (1.0 - p / OPENS) * (SHUTS - OPENS) / OPENS / 2.0,
            p if p < SHUTS => -(p - OPENS) / (SHUTS - OPENS),
            _ => 0.0,
        }
    }
}

impl Syllable {
    /// What sounds now.
    fn mix(&self, rate: f64) -> Mix {
        let ms = 1e-3 * rate;
        let since = self.n - self.opens;
        let come = |x: f64, over: f64| if x <= 0.0 { 0.0 } else { 0.5 - 0.5 * (PI * (x / over).min(1.0)).cos() };
        let going = come(self.length - self.n, self.fall);
        let voice = come(since, self.rise) * going;
        let silent = Mix { voice, breath: 0.0, hiss: 0.0 };
        // A burst falls away within a few milliseconds, its beginning is at once.
        let burst = |before_ms: f64, falls_ms: f64| {
            let t = since + before_ms * ms;
            if t < 0.0 { 0.0 } else { (-t / (falls_ms * ms)).exp() }
        };
        match self.onset {
            Onset::Vowel => silent,
            Onset::Stop => {
                let breath = if since > -35.0 * ms { 0.12 * come(-since, 15.0 * ms) } else { 0.0 };
                Mix { breath, hiss: 0.5 * burst(40.0, 4.0), ..silent }
            }
            Onset::VoicedStop => Mix { hiss: 0.25 * burst(8.0, 3.0), ..silent },
            Onset::Fricative => {
                let hiss = 0.22 * come(self.n, 20.0 * ms) * come(-since + 15.0 * ms, 25.0 * ms);
                Mix { hiss, ..silent }
            }
            Onset::Nasal => Mix { voice: voice.max(0.25 * come(self.n, 20.0 * ms) * going), ..silent },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_units::{Decibels, Hertz};

    fn of(speech: &Speech, seconds: usize) -> Vec<f64> {
        let mut speaking = Speaking::new(speech, 44_100.0);
        (0..seconds * 44_100).map(|_| speaking.next()).collect()
    }

    #[test]
    fn a_voice_is_as_loud_as_asked_whoever_speaks() {
        for (seed, pitch) in [(1, 95.0), (2, 120.0), (3, 140.0), (4, 190.0), (5, 210.0), (6, 240.0)] {
            let x = of(&Speech { level: Decibels(-6.0), pitch: Hertz(pitch), seed }, 60);
            // The peaks of tenths of a second: that of a usual vowel is a high one of them.
            let mut peaks: Vec<f64> = x.chunks(4_410).map(|c| c.iter().fold(0.0f64, |m, v| m.max(v.abs()))).collect();
            peaks.sort_by(f64::total_cmp);
            let usual = Decibels::from_amplitude(peaks[peaks.len() * 3 / 4]).0 - NOTE_PEAK.0;
            assert!((usual + 6.0).abs() < 2.5, "{pitch} Hz: {usual}");
        }
    }
}
