//! What becomes of a sound in its first tenth of a second. A string goes on sounding; a knock, a choked string, a click
//! that bled into the recording are over by then.

use crate::tuning::attack::{DECAY_BEFORE_MS, DECAY_BEGINS_MS, DECAY_NEXT_MS, DECAY_UNTIL_MS};

/// Ratios of mean powers; 1, or nothing lost, where the recording ends before it can be told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Decay {
    /// From 30 to 60 ms, over the first 30 ms.
    pub(crate) lasting: f32,
    /// From 60 to 100 ms, over the first 30 ms.
    pub(crate) residual_ratio: f32,
    /// From 60 to 100 ms, over the time before: of the sound as it is, or of its treble (the second difference) if that
    /// is more.
    pub(crate) added: f32,
}

impl Decay {
    /// That of the sound at sample `at` of `audio`, `ms` samples being a millisecond.
    pub(crate) fn of(audio: &[f32], at: f64, ms: f64) -> Self {
        let part = |from: f64, to: f64| {
            let place = |t: f64| ((at + t * ms).max(0.0) as usize).min(audio.len());
            (&audio[place(from)..place(to)], (to - from) * ms)
        };
        let (first, _) = part(0.0, DECAY_BEGINS_MS);
        let (next, next_whole) = part(DECAY_BEGINS_MS, DECAY_NEXT_MS);
        let (later, later_whole) = part(DECAY_NEXT_MS, DECAY_UNTIL_MS);
        let (before, _) = part(-DECAY_BEFORE_MS[0], -DECAY_BEFORE_MS[1]);
        let power = mean_power(first);
        let over = |part: &[f32], whole: f64, base: f32| {
            if base > 0.0 && part.len() as f64 + 1.0 >= whole { mean_power(part) / base } else { 1.0 }
        };
        let residual_ratio = over(later, later_whole, power);
        let added = if later.len() as f64 + 1.0 < later_whole {
            f32::INFINITY
        } else {
            let ratio = |a: f32, b: f32| if b > 0.0 { a / b } else { f32::INFINITY };
            ratio(mean_power(later), mean_power(before)).max(ratio(treble_power(later), treble_power(before)))
        };
        Self { lasting: over(next, next_whole, power), residual_ratio, added }
    }
}

/// Mean of the squares; 0 of nothing.
pub(crate) fn mean_power(x: &[f32]) -> f32 {
    x.iter().map(|x| x * x).sum::<f32>() / x.len().max(1) as f32
}

/// The same of the second difference, which rises by 12 dB an octave.
fn treble_power(x: &[f32]) -> f32 {
    let sum: f32 = x.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]).powi(2)).sum();
    sum / x.len().saturating_sub(2).max(1) as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f32::consts::TAU;

    const MS: f64 = 22.05;

    fn decay(f: impl Fn(f32) -> f32) -> Decay {
        let x: Vec<f32> = (0..6_000).map(|i| f((f64::from(i) / MS) as f32 - 100.0)).collect();
        Decay::of(&x, 100.0 * MS, MS)
    }

    #[test]
    fn a_string_stays_and_a_knock_does_not() {
        let decaying = |rate_db: f32| {
            move |t: f32| if t < 0.0 { 0.0 } else { 10f32.powf(-rate_db * t / 2e4) * (TAU * 0.3 * t).sin() }
        };
        // 20 dB a second against 300: 65 ms lie between the middles of the stretches.
        let string = decay(decaying(20.0));
        assert!((10.0 * string.residual_ratio.log10() + 1.3).abs() < 0.2, "{string:?}");
        assert!(string.added > 1e3 && string.lasting > 0.8, "{string:?}");
        let knock = decay(decaying(300.0));
        assert!(10.0 * knock.residual_ratio.log10() < -16.0 && knock.lasting < 0.2, "{knock:?}");
    }

    #[test]
    fn a_click_over_a_ringing_string_adds_nothing_that_stays() {
        let ringing = |t: f32| 10f32.powf(-(t + 100.0) / 1e3) * (TAU * 0.11 * t).sin();
        let click = |t: f32| if (0.0..10.0).contains(&t) { 0.3 * (TAU * 3.0 * t).sin() } else { 0.0 };
        let f = decay(|t| ringing(t) + click(t));
        assert!(f.added < 1.0 && f.residual_ratio > 0.5, "{f:?}");
        let note = decay(|t| ringing(t) + if t > 0.0 { 0.05 * (TAU * 1.7 * t).sin() } else { 0.0 });
        assert!(note.added > 10.0, "{note:?}");
    }

    #[test]
    fn where_the_recording_ends_nothing_is_held_against_it() {
        let x = vec![0.5f32; 1_000];
        let f = Decay::of(&x, 950.0, MS);
        assert_eq!((f.lasting, f.residual_ratio, f.added), (1.0, 1.0, f32::INFINITY));
        assert_eq!(Decay::of(&[], 0.0, MS).residual_ratio, 1.0);
    }
}
