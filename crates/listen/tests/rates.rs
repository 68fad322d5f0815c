//! The same takes at every sample rate from 8 to 192 kHz: the same attacks are heard, at the same times.
//!
//! Pooled over the takes; a single take has some hundred attacks, so that one more or less moves its F by 0.005.
#![allow(clippy::unwrap_used, clippy::panic)]

use takegauge_fourier::{forward, inverse};
use takegauge_listen::Listener;
use takegauge_pluck::scenes;
use takegauge_units::SampleRate;

const MADE_AT: usize = 48_000;

/// The sound at another rate: its spectrum cut or filled up with zeros, faded out over the last tenth below the lower
/// Nyquist frequency as a converter's filter does. No delay: sample 0 stays where it was.
fn resampled(sound: &[f32], rate: usize) -> Vec<f32> {
    // In 40 ms pieces every rate here has a whole number of samples.
    let pieces = sound.len().div_ceil(MADE_AT / 25);
    let (from, to) = (pieces * MADE_AT / 25, pieces * rate / 25);
    let (forward, back) = (forward(from), inverse(to));
    let mut time = sound.to_vec();
    time.resize(from, 0.0);
    let mut spectrum = forward.make_output_vec();
    forward.process(&mut time, &mut spectrum).unwrap();
    let last = from.min(to) / 2;
    for (k, z) in spectrum.iter_mut().enumerate() {
        let place = (10.0 * (k as f32 / last as f32 - 0.9)).clamp(0.0, 1.0);
        *z *= (0.5 + 0.5 * (std::f32::consts::PI * place).cos()) / from as f32;
    }
    spectrum.resize(to / 2 + 1, Default::default());
    spectrum[0].im = 0.0;
    if to % 2 == 0 {
        spectrum[to / 2].im = 0.0;
    }
    let mut out = back.make_output_vec();
    back.process(&mut spectrum, &mut out).unwrap();
    out
}

fn heard(sound: &[f32], rate: usize) -> Vec<f64> {
    let rate = SampleRate::new(rate as u32).unwrap();
    let mut listener = Listener::new(rate);
    listener.push(sound);
    listener.finish().iter().map(|a| a.at.seconds(rate).0).collect()
}

/// Differences in ms of attacks paired one to one within `window` ms, both lists in order.
fn paired(of: &[f64], to: &[f64], window: f64) -> Vec<f64> {
    let (mut i, mut k, mut out) = (0, 0, Vec::new());
    while i < of.len() && k < to.len() {
        let d = 1e3 * (of[i] - to[k]);
        if d.abs() <= window {
            out.push(d);
            (i, k) = (i + 1, k + 1);
        } else if d < 0.0 {
            i += 1;
        } else {
            k += 1;
        }
    }
    out
}

const RATES: [usize; 10] = [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 88_200, 96_000, 176_400, 192_000];
/// Strings of all kinds, ways to record and to play.
const SCENES: [&str; 12] = [
    "clean_slow",
    "clean_fast",
    "late_inside",
    "quiet_upstrokes",
    "rests",
    "legato",
    "bass",
    "nine_strings",
    "archtop_ringing",
    "acoustic_room",
    "noisy",
    "phone",
];
/// What all rates' times agree to, ms, and the share of attacks that must; the middle difference is far smaller.
const CLOSE_MS: f64 = 0.2;
const MIDDLE_MS: f64 = 0.05;
/// ... but for 8 kHz, where half of an edge is cut off.
const MIDDLE_AT_8_KHZ_MS: f64 = 0.06;
/// A known shortfall, held here so that it does not grow: one attack in seven moves by more at 8 kHz, up to 6 ms. There the pick
/// touches a sounding string before it lets go, blind listening takes either for the attack, and the least change to
/// the sound tips the balance.
const SHARE_CLOSE: f64 = 0.84;

/// Right ones, heard, played.
type Counts = [usize; 3];

fn f_measure([right, heard, played]: Counts) -> f64 {
    2.0 * right as f64 / (heard + played) as f64
}

fn add(to: &mut Counts, heard: &[f64], played: &[f64]) {
    to[0] += paired(heard, played, 25.0).len();
    to[1] += heard.len();
    to[2] += played.len();
}

#[test]
fn takes_are_heard_alike_at_every_rate() {
    let mut counts = [Counts::default(); RATES.len()];
    let mut apart: [Vec<f64>; RATES.len()] = Default::default();
    let mut usual_counts = Counts::default();
    for name in SCENES {
        let mut scene = scenes::by_name(name).unwrap();
        scene.sound.rate = SampleRate::new(MADE_AT as u32).unwrap();
        let (performance, take) = scene.render();
        let played: Vec<f64> = performance.attacks().iter().map(|s| s.0).collect();
        let usual = heard(&take.samples, MADE_AT);
        add(&mut usual_counts, &usual, &played);
        for (r, rate) in RATES.into_iter().enumerate() {
            let other = heard(&resampled(&take.samples, rate), rate);
            add(&mut counts[r], &other, &played);
            apart[r].extend(paired(&other, &usual, 25.0));
        }
    }
    let usual_f = f_measure(usual_counts);
    assert!(usual_f >= 0.985, "48 kHz: F {usual_f:.4}");
    for ((rate, counts), mut apart) in RATES.into_iter().zip(counts).zip(apart) {
        let f = f_measure(counts);
        assert!(f >= 0.985 && (f - usual_f).abs() <= 0.005, "{rate} Hz: F {f:.4}, {usual_f:.4} at 48 kHz");
        apart.sort_by(f64::total_cmp);
        let middle = apart[apart.len() / 2];
        let share = apart.iter().filter(|d| d.abs() <= CLOSE_MS).count() as f64 / apart.len() as f64;
        let most = if rate == 8_000 { MIDDLE_AT_8_KHZ_MS } else { MIDDLE_MS };
        assert!(middle.abs() <= most, "{rate} Hz: times differ by {middle:.3} ms in the middle");
        assert!(
            share >= SHARE_CLOSE,
            "{rate} Hz: only {share:.3} of the times within {CLOSE_MS} ms of those at 48 kHz"
        );
    }
}
