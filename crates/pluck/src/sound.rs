//! How the guitar and the recording sound.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use takegauge_units::{Decibels, Hertz, Millis, SampleRate, Seconds};

/// A usual note's peak, dBFS; every level of a note counts from here.
pub const NOTE_PEAK: Decibels = Decibels(-10.0);

/// An instrument, as far as it matters to attacks, decay and colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Guitar {
    /// Solid body, pickup near the bridge, new strings.
    Bridge,
    /// Solid body, pickup near the neck.
    Neck,
    /// Hollow body, heavy strings that die sooner and darker.
    Archtop,
    /// Flat-top in front of a microphone.
    Acoustic,
    /// Bass guitar with a plectrum.
    Bass,
    /// One drawn by this seed, anywhere between and somewhat beyond the others: strings, pickup, body.
    Drawn(u32),
}

/// The figures behind a [`Guitar`]. Plain choices within published ranges: pickup resonance 2 to 5 kHz with peaks of
/// 0 to 12 dB (H. Lemme, on pickups with their cable); all else by ear, no source.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Build {
    /// Time to fall by 60 dB at 100 Hz, seconds; falls with pitch.
    pub t60_low: f64,
    /// The same at 4 kHz.
    pub t60_high: f64,
    /// Where the pickup sits, as a part of the open string's length, and how deep its notches are, 0 to 1.
    pub pickup_at: f64,
    pub pickup_depth: f64,
    /// Resonance of the pickup or roll-off of the microphone, Hz and Q.
    pub resonance: (f64, f64),
    /// Decay time of the pluck's pulse, ms: short is bright.
    pub pulse_ms: f64,
    /// Inharmonicity b: partials at k f0 sqrt(1 + b k^2).
    pub stiffness: f64,
    /// Body modes: Hz, Q, level; a level of 0 is none.
    pub body: [Mode; 3],
}

/// Frequency in Hz, Q, level.
pub(crate) type Mode = (f64, f64, f64);

const NO_MODE: Mode = (100.0, 1.0, 0.0);

impl Build {
    /// The modes that sound.
    pub(crate) fn modes(&self) -> impl Iterator<Item = &Mode> {
        self.body.iter().filter(|m| m.2 > 0.0)
    }
}

impl Guitar {
    pub(crate) fn build(self) -> Build {
        let solid = Build {
            t60_low: 7.0,
            t60_high: 0.9,
            pickup_at: 0.07,
            pickup_depth: 0.5,
            resonance: (4_000.0, 2.0),
            pulse_ms: 1.0,
            stiffness: 8e-5,
            body: [NO_MODE; 3],
        };
        match self {
            Self::Bridge => solid,
            Self::Neck => Build { pickup_at: 0.24, resonance: (3_200.0, 1.6), pulse_ms: 1.4, t60_high: 0.7, ..solid },
            Self::Archtop => Build {
                t60_low: 3.0,
                t60_high: 0.3,
                pickup_at: 0.22,
                resonance: (2_600.0, 1.1),
                pulse_ms: 1.6,
                stiffness: 1.1e-4,
                body: [(125.0, 8.0, 0.10), NO_MODE, NO_MODE],
                ..solid
            },
            Self::Acoustic => Build {
                t60_low: 4.0,
                t60_high: 0.5,
                pickup_depth: 0.0,
                resonance: (9_000.0, 0.7),
                pulse_ms: 0.8,
                body: [(105.0, 12.0, 0.25), (205.0, 15.0, 0.3), (390.0, 10.0, 0.2)],
                ..solid
            },
            Self::Bass => Build {
                t60_low: 8.0,
                t60_high: 0.5,
                pickup_at: 0.18,
                resonance: (2_800.0, 1.2),
                pulse_ms: 1.5,
                ..solid
            },
            Self::Drawn(seed) => drawn(seed),
        }
    }
}

/// A guitar out of the range of guitars; every figure is drawn by itself.
fn drawn(seed: u32) -> Build {
    let mut rng = ChaCha8Rng::seed_from_u64(u64::from(seed));
    let mut between = |low: f64, high: f64| low + (high - low) * rng.random::<f64>();
    let hollow = between(0.0, 1.0) < 0.4;
    let t60_low = 2f64.powf(between(0.0, 3.3));
    let mut mode = |low: f64| {
        if hollow { (low * between(0.8, 1.3), between(6.0, 20.0), between(0.0, 0.35)) } else { NO_MODE }
    };
    Build {
        body: [mode(105.0), mode(205.0), mode(390.0)],
        t60_low,
        t60_high: (t60_low * between(0.06, 0.2)).max(0.15),
        pickup_at: between(0.04, 0.3),
        pickup_depth: between(0.0, 0.7),
        resonance: (2f64.powf(between(11.0, 13.2)), between(0.6, 3.0)),
        pulse_ms: 2f64.powf(between(-1.0, 1.2)),
        stiffness: 10f64.powf(between(-4.5, -3.7)),
    }
}

/// Somebody who talks while the drill is played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Speech {
    /// A usual vowel's peak against a usual note's, dB.
    pub level: Decibels,
    /// The voice's middle pitch: men about 120 Hz, women about 200.
    pub pitch: Hertz,
    /// What is said, so to say.
    pub seed: u64,
}

/// Knocks on a table, a body, a floor: dull, over within a tenth of a second, at no regular times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knocks {
    /// A usual knock's peak against a usual note's, dB.
    pub level: Decibels,
    /// From one to the next on average; at least 0.05 s.
    pub apart: Seconds,
    /// When and how.
    pub seed: u64,
}

/// How a performance is turned into a recording. Levels in dBFS unless said otherwise; `None` leaves the thing out.
#[derive(Debug, Clone, PartialEq)]
pub struct Sound {
    /// Of the recording; outside 4 to 192 kHz the nearer end is taken (see [`crate::Rendered::rate`]).
    pub rate: SampleRate,
    /// The instrument.
    pub guitar: Guitar,
    /// The whole guitar is off by so many cents.
    pub cents: f64,
    /// White noise of the recording chain, RMS.
    pub noise: Option<Decibels>,
    /// Gain into a soft limiter, dB; 12 is crunchy, 25 heavily driven. Noise and hum are driven with the strings.
    pub drive: Option<Decibels>,
    /// Mains hum (50 Hz and harmonics), RMS.
    pub hum: Option<Decibels>,
    /// A room around the amplifier: reverberant sound against the direct, dB.
    pub room: Option<Decibels>,
    /// Nothing but the band of a telephone: 300 to 3,400 Hz, limited.
    pub phone: bool,
    /// The click from the headphones, peak.
    pub click_bleed: Option<Decibels>,
    /// The pick is heard touching the string, 3 to 7 ms before it lets go: peak against a usual note, dB.
    pub pick_ticks: Option<Decibels>,
    /// Somebody talks in the pauses between passes, about RMS.
    pub talk: Option<Decibels>,
    /// Somebody talks on and on, over the playing too.
    pub speech: Option<Speech>,
    /// Somebody knocks on wood, over the playing too.
    pub knocks: Option<Knocks>,
    /// A single echo: delay, and level in dB against the direct sound.
    pub echo: Option<(Millis, Decibels)>,
    /// Gain of the finished recording, dB.
    pub gain: Decibels,
}

impl Default for Sound {
    fn default() -> Self {
        Self {
            // 44,100 is inside SampleRate's range, so the other arm is never taken.
            rate: rate(44_100),
            guitar: Guitar::Bridge,
            cents: 0.0,
            noise: Some(Decibels(-80.0)),
            drive: None,
            hum: None,
            room: None,
            phone: false,
            click_bleed: None,
            pick_ticks: None,
            talk: None,
            speech: None,
            knocks: None,
            echo: None,
            gain: Decibels(0.0),
        }
    }
}

/// A sample rate from a constant; 0 counts as 1 Hz.
pub(crate) fn rate(hz: u32) -> SampleRate {
    let mut hz = hz;
    loop {
        match SampleRate::new(hz) {
            Some(r) => return r,
            None => hz = if hz == 0 { 1 } else { hz / 2 },
        }
    }
}

impl Sound {
    /// The rate that is rendered.
    pub(crate) fn rate_rendered(&self) -> SampleRate {
        rate(self.rate.hz().clamp(4_000, 192_000))
    }

    /// The sounding frequency of a note written as `f`, kept where a string can be modelled at this rate.
    pub(crate) fn sounding(&self, f: Hertz) -> f64 {
        let cents = if self.cents.is_finite() { self.cents.clamp(-1200.0, 1200.0) } else { 0.0 };
        let f = if f.0.is_finite() { f.0 } else { 100.0 };
        (f * 2f64.powf(cents / 1200.0)).clamp(8.0, 0.3 * self.rate_rendered().as_f64())
    }
}
