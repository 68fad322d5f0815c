//! The pick's touch: some milliseconds before the release the pick comes to rest on a string that still sounds, and
//! stills it. What was foretold fails there already, but nothing new sounds. It is told by the silence that it leaves:
//! where the old sound was to go on and did not, the release is the rise out of that silence.

use crate::dot::dot;

/// The silence lasts at least so long, ms.
const SILENCE_MS: f64 = 2.0;
/// The release is heard within so long, ms: the first pulse of the string.
const RISE_MS: f64 = 0.8;
/// In the silence at most this share of the foretold power is left, 10 dB down.
const LEFT: f64 = 0.1;
/// Less foretold than this share of the past's mean power may be a gap between two pulses of a string: a silence must
/// be quieter than any such gap before.
const FORETOLD: f64 = 0.03;
/// The rise brings at least this share of the strongest rise nearby, and so many times the power of the silence.
const SHARE: f64 = 0.1;
const TIMES: f64 = 10.0;
/// Power below this share of the strongest rise's counts as silence.
const FLOOR: f64 = 1e-4;

/// A silence in a searched stretch, in samples from its start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Silence {
    pub(crate) from: usize,
    /// The rise begins about here.
    pub(crate) to: usize,
}

/// Looks for the silence that a touch leaves in `sound`, which followed `past`; the past's coefficients foretell it.
pub(crate) fn silence(past: &[f64], sound: &[f64], coefficients: &[f64], rate: f64) -> Option<Silence> {
    let n = |ms: f64| ((1e-3 * ms * rate).round() as usize).max(1);
    let (quiet, rise) = (n(SILENCE_MS), n(RISE_MS));
    if coefficients.is_empty() || sound.len() <= quiet + rise {
        return None;
    }
    let foretold = powers(&go_on(past, coefficients, sound.len()));
    let heard = powers(sound);
    let mean = |sums: &[f64], from: usize, to: usize| (sums[to] - sums[from]).max(0.0) / (to - from) as f64;
    let usual = past.iter().map(|x| x * x).sum::<f64>() / past.len().max(1) as f64;
    // Long after it was made, a prediction of sharp pulses has died away; the quietest that was heard has not.
    let before = powers(past);
    let quietest = (quiet..before.len()).map(|t| mean(&before, t - quiet, t)).fold(usual, f64::min);
    let last = sound.len() - rise;
    let strongest = (0..last).map(|t| mean(&heard, t, t + rise)).fold(0.0, f64::max);
    let mut best: Option<(f64, usize)> = None;
    for t in quiet..last {
        let told = mean(&foretold, t - quiet, t);
        let was_to_be = if told < FORETOLD * usual { quietest } else { told };
        let left = mean(&heard, t - quiet, t);
        let comes = mean(&heard, t, t + rise);
        if left > LEFT * was_to_be || comes < SHARE * strongest {
            continue;
        }
        let times = comes / (left + FLOOR * strongest);
        if times > best.map_or(TIMES, |b| b.0) {
            best = Some((times, t));
        }
    }
    best.map(|(_, to)| Silence { from: to - quiet, to })
}

/// How the past goes on by itself for `n` samples, never beyond its own highest: a prediction may run away.
fn go_on(past: &[f64], coefficients: &[f64], n: usize) -> Vec<f64> {
    let order = coefficients.len().min(past.len());
    let in_time: Vec<f64> = coefficients[..order].iter().rev().copied().collect();
    let highest = past.iter().fold(0.0f64, |m, x| m.max(x.abs()));
    let mut sound = past[past.len() - order..].to_vec();
    for _ in 0..n {
        let next = dot(&sound[sound.len() - order..], &in_time);
        sound.push(next.clamp(-highest, highest));
    }
    sound.split_off(order)
}

/// Sums of squares from the first sample up to each.
fn powers(x: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let sums = x.iter().map(|x| {
        sum += x * x;
        sum
    });
    std::iter::once(0.0).chain(sums).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::predict::fit;
    use std::f64::consts::TAU;

    const RATE: f64 = 11_025.0;

    fn tone(i: usize) -> f64 {
        (TAU * 0.04 * i as f64).sin() + 0.4 * (TAU * 0.09 * i as f64 + 1.0).sin()
    }

    fn found(sound: impl Fn(usize) -> f64) -> Option<Silence> {
        let x: Vec<f64> = (0..540).map(|i| if i < 400 { tone(i) } else { sound(i) }).collect();
        let c = fit(&x[..400], 12).unwrap();
        silence(&x[..400], &x[400..], &c, RATE)
    }

    #[test]
    fn a_stilled_string_leaves_a_silence_and_the_release_ends_it() {
        let touched = |i: usize| match i {
            ..430 => tone(i),
            430..490 => tone(i) * 10f64.powf(-((i - 430) as f64) / 11.0),
            _ => 0.8 * (TAU * 0.05 * i as f64).sin(),
        };
        let s = found(touched).unwrap();
        assert!((486..=492).contains(&(400 + s.to)), "{s:?}");
    }

    #[test]
    fn a_note_over_a_sounding_string_follows_no_silence() {
        assert_eq!(found(|i| tone(i) + if i < 470 { 0.0 } else { 0.8 * (TAU * 0.05 * i as f64).sin() }), None);
        assert_eq!(found(|i| if i < 450 { tone(i) } else { 0.0 }), None);
        assert_eq!(silence(&[], &[0.0; 100], &[], RATE), None);
    }
}
