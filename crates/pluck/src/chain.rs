//! The recording chain: noise, hum, drive, room, echo, what the microphone hears besides, a telephone's band.

use crate::filter::Section;
use crate::knocking::Knocking;
use crate::performance::Performance;
use crate::room::{Echo, Room};
use crate::sound::{NOTE_PEAK, Sound};
use crate::speech::Speaking;
use crate::talk::Talk;
use biquad::Type;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use std::f64::consts::{FRAC_1_SQRT_2, TAU};
use takegauge_units::Decibels;

/// Everything after the guitar's output, sample by sample.
pub(crate) struct Chain {
    rate: f64,
    n: u64,
    noise: Option<(ChaCha8Rng, f64)>,
    hum: Option<f64>,
    drive: Option<Drive>,
    room: Option<Room>,
    echo: Option<Echo>,
    clicks: Option<Clicks>,
    talk: Option<Talk>,
    speech: Option<Speaking>,
    knocks: Option<Knocking>,
    phone: Option<[Section; 3]>,
    gain: f64,
}

fn amplitude(level: Decibels) -> f64 {
    if level.0.is_finite() { Decibels(level.0.clamp(-200.0, 60.0)).amplitude() } else { 0.0 }
}

impl Chain {
    pub(crate) fn new(performance: &Performance, sound: &Sound) -> Self {
        let rate = sound.rate_rendered().as_f64();
        let phone = || {
            [
                Section::new(Type::HighPass, rate, 300.0, FRAC_1_SQRT_2),
                Section::new(Type::HighPass, rate, 300.0, FRAC_1_SQRT_2),
                Section::new(Type::LowPass, rate, 3_400.0, FRAC_1_SQRT_2),
            ]
        };
        Self {
            rate,
            n: 0,
            noise: sound.noise.map(|d| (ChaCha8Rng::seed_from_u64(0x6e6f_6973), amplitude(d))),
            hum: sound.hum.map(amplitude),
            drive: sound.drive.map(|d| Drive::new(d, rate)),
            room: sound.room.map(|d| Room::new(amplitude(d), rate)),
            echo: sound.echo.map(|(delay, level)| Echo::new(delay, amplitude(level), rate)),
            clicks: sound.click_bleed.map(|d| Clicks::new(performance, amplitude(d), rate)),
            talk: sound.talk.map(|d| Talk::new(&performance.pauses, amplitude(d), rate)),
            speech: sound.speech.map(|s| Speaking::new(&s, rate)),
            knocks: sound.knocks.map(|k| Knocking::new(&k, rate)),
            phone: sound.phone.then(phone),
            gain: amplitude(sound.gain),
        }
    }

    pub(crate) fn run(&mut self, strings: f64) -> f64 {
        let mut x = strings;
        if let Some((rng, rms)) = &mut self.noise {
            x += *rms * rng.sample::<f64, _>(StandardNormal);
        }
        if let Some(rms) = self.hum {
            x += rms * hum(self.n as f64 / self.rate);
        }
        if let Some(drive) = &mut self.drive {
            x = drive.run(x);
        }
        if let Some(room) = &mut self.room {
            x = room.run(x);
        }
        if let Some(echo) = &mut self.echo {
            x = echo.run(x);
        }
        if let Some(clicks) = &mut self.clicks {
            x += clicks.next();
        }
        if let Some(talk) = &mut self.talk {
            x += talk.next();
        }
        if let Some(speech) = &mut self.speech {
            x += speech.next();
        }
        if let Some(knocks) = &mut self.knocks {
            x += knocks.next();
        }
        if let Some(sections) = &mut self.phone {
            x = sections.iter_mut().fold(x, |x, s| s.run(x));
            // The telephone's automatic gain, as a soft ceiling at -6 dBFS.
            x = 0.5 * (2.0 * x).tanh();
        }
        self.n += 1;
        self.gain * x
    }
}

/// 50 Hz with the odd harmonics of a rectifier's stray field, RMS 1.
fn hum(t: f64) -> f64 {
    const PARTS: [(f64, f64); 5] = [(1.0, 1.0), (2.0, 0.5), (3.0, 0.6), (5.0, 0.3), (7.0, 0.2)];
    let power: f64 = PARTS.iter().map(|p| p.1 * p.1 / 2.0).sum();
    let turn = (50.0 * t).fract();
    PARTS.iter().map(|(h, a)| a * (TAU * h * turn + h).sin()).sum::<f64>() / power.sqrt()
}

/// A soft limiter (tanh) and a loudspeaker's band. A usual note comes out with its peak near where it was.
struct Drive {
    gain: f64,
    out: f64,
    speaker: [Section; 2],
}

impl Drive {
    fn new(db: Decibels, rate: f64) -> Self {
        let gain = amplitude(Decibels(db.0.clamp(-20.0, 60.0))) / NOTE_PEAK.amplitude();
        let speaker = [
            Section::new(Type::HighPass, rate, 70.0, FRAC_1_SQRT_2),
            Section::new(Type::LowPass, rate, 5_000.0, FRAC_1_SQRT_2),
        ];
        Self { gain, out: NOTE_PEAK.amplitude() / (gain * NOTE_PEAK.amplitude()).tanh(), speaker }
    }

    fn run(&mut self, x: f64) -> f64 {
        let x = self.out * (self.gain * x).tanh();
        self.speaker.iter_mut().fold(x, |x, s| s.run(x))
    }
}

/// The click that leaks from the headphones: a short beep a beat, higher on the first of a bar.
struct Clicks {
    /// Sample and frequency, latest first.
    coming: Vec<(u64, f64)>,
    now: Option<(u64, f64)>,
    n: u64,
    level: f64,
    rate: f64,
}

impl Clicks {
    fn new(performance: &Performance, level: f64, rate: f64) -> Self {
        let sample = |t: f64| (t * rate).round().max(0.0) as u64;
        let mut coming: Vec<(u64, f64)> =
            performance.beats.iter().map(|b| (sample(b.at.0), if b.accented { 1_760.0 } else { 1_320.0 })).collect();
        coming.sort_by_key(|c| std::cmp::Reverse(c.0));
        Self { coming, now: None, n: 0, level, rate }
    }

    fn next(&mut self) -> f64 {
        while self.coming.last().is_some_and(|c| c.0 <= self.n) {
            self.now = self.coming.pop();
        }
        let n = self.n;
        self.n += 1;
        let Some((start, f)) = self.now else { return 0.0 };
        let t = (n - start) as f64 / self.rate;
        if t > 0.08 {
            self.now = None;
            return 0.0;
        }
        self.level * (TAU * f * t).sin() * (-t / 0.010).exp()
    }
}
