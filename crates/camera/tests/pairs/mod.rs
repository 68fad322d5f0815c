//! Takes of the string model, and what a camera in the room hears of them: a hall, a telephone's band, noise, another
//! clock, another beginning. All of it known.

#![allow(dead_code, reason = "the test and the example each use a part")]

use takegauge_camera::Narrow;
use takegauge_drill::{Drill, built_in};
use takegauge_pluck::{Guitar, Player, Sound, perform, render};
use takegauge_stats::Seeded;
use takegauge_units::{Decibels, Millis, SampleRate};

/// Rate of take and film; what a telephone passes lies far below its half.
pub(crate) const RATE_HZ: u32 = 11_025;

/// What a film's sound goes through.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Filming {
    /// Film seconds at the take's start, below 0 where the film begins later.
    pub(crate) offset_s: f64,
    /// By how much the camera's clock is faster.
    pub(crate) drift_ppm: f64,
    /// Film seconds at which the film ends; the sound's end where that is sooner.
    pub(crate) ends_s: f64,
    /// Noise against the sound.
    pub(crate) snr_db: f64,
    /// The hall's sound against the direct one.
    pub(crate) hall_db: f64,
    /// 300 to 3,400 Hz only.
    pub(crate) phone: bool,
}

/// A drill of those built in, as often as fills about so many seconds, and how it is played.
pub(crate) fn scene(seed: u64, seconds: f64) -> (Drill, Sound) {
    let mut rng = Seeded::stream(seed, 1);
    let all: Vec<Drill> = built_in().filter_map(|b| b.drill().ok()).collect();
    let mut drill = all[rng.index(all.len())].clone();
    let once = drill.step_seconds().0 * drill.line.len() as f64;
    drill.repeats = (seconds / once).ceil().max(1.0) as u32;
    let sound = Sound {
        rate: rate(),
        guitar: Guitar::Drawn(rng.index(1 << 20) as u32),
        noise: Some(Decibels(-70.0)),
        ..Sound::default()
    };
    (drill, sound)
}

fn rate() -> SampleRate {
    SampleRate::new(RATE_HZ).expect("a rate")
}

/// A take of it; every `player` plays it once, with 2 to 6 ms of spread.
pub(crate) fn take(drill: &Drill, sound: &Sound, player: u64) -> Vec<f32> {
    let spread = Millis(2.0 + 4.0 * Seeded::stream(player, 2).unit());
    let player = Player { seed: player, spread, ..Player::default() };
    render(&perform(drill, &player), sound).samples
}

/// What the camera records of a take.
pub(crate) fn film(take: &[f32], filming: &Filming, seed: u64) -> Vec<f32> {
    let mut rng = Seeded::stream(seed, 3);
    let mut heard = hall(take, filming.hall_db, &mut rng);
    if filming.phone {
        heard = band(&heard, 300.0, 3_400.0);
    }
    let hz = f64::from(RATE_HZ);
    let end = (take.len() as f64 / hz * (1.0 + 1e-6 * filming.drift_ppm) + filming.offset_s).min(filming.ends_s);
    let power = heard.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / heard.len().max(1) as f64;
    let noise = (power * 10f64.powf(-filming.snr_db / 10.0)).sqrt();
    (0..(end * hz) as usize)
        .map(|n| {
            let take_s = (n as f64 / hz - filming.offset_s) / (1.0 + 1e-6 * filming.drift_ppm);
            between(&heard, take_s * hz) + (noise * rng.normal()) as f32
        })
        .collect()
}

/// As the matching takes it.
pub(crate) fn narrow(sound: &[f32]) -> Narrow {
    Narrow::of(sound, rate())
}

/// The direct sound, and some seven hundred echoes of it within 0.6 s that die away, their power `db` against it.
fn hall(x: &[f32], db: f64, rng: &mut Seeded) -> Vec<f32> {
    let hz = f64::from(RATE_HZ);
    let echoes: Vec<(usize, f64)> = (0..700)
        .map(|_| {
            let t = 0.004 + 0.6 * rng.unit();
            ((t * hz) as usize, rng.normal() * (-t / 0.12).exp())
        })
        .collect();
    let size = echoes.iter().map(|e| e.1 * e.1).sum::<f64>().sqrt().max(1e-12);
    let level = 10f64.powf(db / 20.0) / size;
    let mut out = x.to_vec();
    for (late, gain) in echoes {
        let gain = (level * gain) as f32;
        for (o, x) in out.iter_mut().skip(late).zip(x) {
            *o += gain * x;
        }
    }
    out
}

/// A band-pass of linear phase, its delay taken out.
fn band(x: &[f32], low: f64, high: f64) -> Vec<f32> {
    const HALF: i64 = 100;
    let hz = f64::from(RATE_HZ);
    let low_pass = |f: f64, k: i64| {
        let w = 2.0 * f / hz;
        if k == 0 { w } else { (std::f64::consts::PI * w * k as f64).sin() / (std::f64::consts::PI * k as f64) }
    };
    let taps: Vec<f32> = (-HALF..=HALF)
        .map(|k| {
            let window = 0.5 + 0.5 * (std::f64::consts::PI * k as f64 / (HALF + 1) as f64).cos();
            ((low_pass(high, k) - low_pass(low, k)) * window) as f32
        })
        .collect();
    let mut padded = vec![0.0; HALF as usize];
    padded.extend_from_slice(x);
    padded.extend(std::iter::repeat_n(0.0, HALF as usize));
    padded.windows(taps.len()).map(|w| w.iter().zip(&taps).map(|(a, b)| a * b).sum()).collect()
}

/// A sample between samples, by a windowed sinc of 32 taps; silence outside.
fn between(x: &[f32], at: f64) -> f32 {
    const HALF: i64 = 16;
    let whole = at.floor();
    let rest = at - whole;
    let tap = |k: i64| {
        let sample = usize::try_from(whole as i64 + k).ok().and_then(|i| x.get(i)).copied().unwrap_or(0.0);
        let d = std::f64::consts::PI * (k as f64 - rest);
        let window = 0.5 + 0.5 * (d / (HALF as f64 + 1.0)).cos();
        sample * (if d.abs() < 1e-9 { 1.0 } else { d.sin() / d } * window) as f32
    };
    if at < -32.0 || at > x.len() as f64 + 32.0 { 0.0 } else { (1 - HALF..=HALF).map(tap).sum() }
}
