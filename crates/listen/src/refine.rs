//! The instant of an attack within a few milliseconds of where the transient was seen, at the take's own rate.

use crate::clock::Clock;

/// What lies below is the strings' slow movement, hum and rumble; an attack has plenty above.
const HIGH_PASS_HZ: f64 = 500.0;
const SEARCH_BACK_MS: f64 = 6.0;
const SEARCH_AHEAD_MS: f64 = 5.0;
const QUIET_MS: f64 = 18.0;
const PEAK_MS: f64 = 5.0;
const BEGIN_MS: f64 = 30.0;

/// Where an attack was found and how loud it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Found {
    /// Samples of the take from its start.
    pub(crate) at: f64,
    /// One standard deviation, ms.
    pub(crate) uncertainty_ms: f64,
    /// Largest sample of the 30 ms after, amplitude.
    pub(crate) peak: f32,
    /// Mean power of the 30 ms after.
    pub(crate) power: f32,
}

/// How much audio before and after the place must be at hand, ms.
pub(crate) const BEFORE_MS: f64 = 40.0;
pub(crate) const AFTER_MS: f64 = 60.0;

/// Looks for the attack near sample `near`; `audio` starts at sample `first` of the take.
pub(crate) fn refine(clock: Clock, audio: &[f32], first: u64, begin: u64, near: f64) -> Found {
    let near = near - first as f64;
    // A note that was cut at the beginning of the recording has its attack there.
    let begin = begin as f64 - first as f64;
    let index = |x: f64| x.round().clamp(0.0, audio.len() as f64) as usize;
    let ms = 1e-3 * clock.rate;
    let from = if near - begin < BEGIN_MS * ms { index(begin) } else { index(near - SEARCH_BACK_MS * ms) };
    let to = index(near + SEARCH_AHEAD_MS * ms);
    let quiet_from = index(near - (SEARCH_BACK_MS + QUIET_MS) * ms).min(from);
    let end = index(near + (SEARCH_AHEAD_MS + PEAK_MS) * ms);
    let run_in = index(near - BEFORE_MS * ms).min(quiet_from);
    let high = high_pass(&audio[run_in..end], (std::f64::consts::TAU * HIGH_PASS_HZ / clock.rate) as f32);
    let loud = |a: usize, b: usize| high[a - run_in..b - run_in].iter().fold(0.0f32, |m, x| m.max(x.abs()));
    let bar = loud(quiet_from, from).max(0.5 * loud(from, end));
    let hit = (from..to).find(|i| high[i - run_in].abs() >= bar);
    let (at, uncertainty_ms) = match hit {
        Some(i) => (i as f64, 0.6),
        None => (near.max(0.0), 2.0),
    };
    let after = &audio[index(at)..index(at + 30.0 * ms)];
    let peak = after.iter().fold(0.0f32, |m, x| m.max(x.abs()));
    let power = after.iter().map(|x| x * x).sum::<f32>() / after.len().max(1) as f32;
    Found { at: first as f64 + at, uncertainty_ms, peak, power }
}

fn high_pass(x: &[f32], omega: f32) -> Vec<f32> {
    let k = 1.0 / (1.0 + omega);
    let mut out = x.to_vec();
    for _ in 0..2 {
        let (mut last_in, mut last_out) = (out.first().copied().unwrap_or(0.0), 0.0f32);
        for v in &mut out {
            let y = k * (last_out + *v - last_in);
            last_in = *v;
            last_out = y;
            *v = y;
        }
    }
    out
}
