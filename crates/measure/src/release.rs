//! What the beginning of a sound looks like from near: how a string that is let go tells itself apart from a voice, a
//! knock, a chair.
//!
//! A string's release is over within a millisecond: its instant is known well, most of what cannot be predicted from
//! the sound before comes at once, and from there on it falls, though not to nothing. A voice comes slowly, and strikes
//! anew with every period of the glottis or hisses on; a knock's click is all that it brings to the treble.

use crate::decimate::{decimate, factor};
use crate::dot::dot;
use crate::predict::fit;
use crate::stroke::attack_odds;
use crate::tuning::extra::SPREAD_FLOOR_MS;
use crate::tuning::release::{BANDS, BLOCK_MS, LATER_MS, LEARNT_MS, RELEASE_MS, SAMPLES_A_COEFFICIENT, SMOOTH_MS};
use crate::tuning::sound::CLEAR_OF_OTHERS_MS;
use takegauge_locate::Located;

/// What was seen of one beginning. Levels in dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Release {
    /// How well its instant is known: the natural logarithm of its standard deviation in ms.
    pub(crate) spread: f64,
    /// By how much the release stands above all that is new later, at the lower rate, ...
    pub(crate) fall: f64,
    /// ... and at the higher one.
    pub(crate) treble_fall: f64,
    /// By how much more of the sound predicts itself afterwards than before.
    pub(crate) smoother: f64,
    /// How likely the locator finds it that a string was let go: the odds' natural logarithm.
    pub(crate) attack: f64,
}

/// The beginning at `at` seconds of `stretch`, as it was `located`; `until_next` seconds later comes the next attack.
/// `None` where there is too little sound.
pub(crate) fn release(stretch: &[f32], rate: f64, at: f64, located: &Located, until_next: f64) -> Option<Release> {
    let until_ms = 1e3 * until_next - CLEAR_OF_OTHERS_MS;
    let mut falls = [0.0; 2];
    let mut smoother = 0.0;
    for (k, (rate_hz, order)) in BANDS.into_iter().enumerate() {
        let decimated = decimate(stretch, rate, factor(rate, rate_hz));
        let x: Vec<f64> = decimated.samples.iter().map(|s| f64::from(*s)).collect();
        let part = Part { x: &x, rate: decimated.rate, at };
        falls[k] = part.fall(order, until_ms)?;
        if k == 0 {
            let to = until_ms.min(SMOOTH_MS.1);
            let before = part.predicts_itself(-to, -SMOOTH_MS.0, order);
            let after = part.predicts_itself(SMOOTH_MS.0, to, order);
            smoother = after.zip(before).map_or(0.0, |(a, b)| a - b);
        }
    }
    let [treble_fall, fall] = falls;
    let spread = (located.sd.0 + SPREAD_FLOOR_MS).ln();
    Some(Release { spread, fall, treble_fall, smoother, attack: attack_odds(located.attack) })
}

/// Sound at one rate; times in ms after the attack.
struct Part<'a> {
    x: &'a [f64],
    rate: f64,
    /// Of the attack, seconds.
    at: f64,
}

impl Part<'_> {
    fn index(&self, ms: f64) -> Option<usize> {
        let i = ((self.at + 1e-3 * ms) * self.rate).round();
        (i >= 0.0 && i <= self.x.len() as f64).then_some(i as usize)
    }

    fn between(&self, from_ms: f64, to_ms: f64) -> Option<&[f64]> {
        self.x.get(self.index(from_ms)?..self.index(to_ms)?)
    }

    /// dB from the loudest of what is new at the release down to the loudest of what is new later.
    fn fall(&self, order: usize, until_ms: f64) -> Option<f64> {
        let coefficients = fit(self.between(-LEARNT_MS.0, -LEARNT_MS.1)?, order)?;
        let in_time: Vec<f64> = coefficients.iter().rev().copied().collect();
        // Power of the errors of prediction in the blocks from one time on up to another.
        let blocks = |from_ms: f64, to_ms: f64| -> Option<Vec<f64>> {
            let count = ((to_ms - from_ms) / BLOCK_MS).floor().max(0.0) as usize;
            let block = |k: usize| {
                let (from, to) = (from_ms + k as f64 * BLOCK_MS, from_ms + (k + 1) as f64 * BLOCK_MS);
                let errors = self.x.get(self.index(from)?.checked_sub(order)?..self.index(to)?)?.windows(order + 1);
                let n = errors.len().max(1) as f64;
                Some(errors.map(|w| (w[order] - dot(&w[..order], &in_time)).powi(2)).sum::<f64>() / n)
            };
            (0..count).map(block).collect()
        };
        let release = blocks(RELEASE_MS.0, RELEASE_MS.1)?.into_iter().fold(0.0f64, f64::max);
        let later = blocks(LATER_MS.0, until_ms.min(LATER_MS.1))?;
        let loudest = later.windows(2).map(|w| 0.5 * (w[0] + w[1])).fold(0.0f64, f64::max);
        (release > 0.0 && loudest > 0.0).then(|| 10.0 * (release / loudest).log10())
    }

    /// How many dB below the sound the errors of its own prediction lie.
    fn predicts_itself(&self, from_ms: f64, to_ms: f64, order: usize) -> Option<f64> {
        let x = self.between(from_ms, to_ms)?;
        let order = order.min(x.len() / SAMPLES_A_COEFFICIENT);
        let coefficients = fit(x, order)?;
        let in_time: Vec<f64> = coefficients.iter().rev().copied().collect();
        let (mut errors, mut sound) = (0.0, 0.0);
        for w in x.windows(order + 1) {
            errors += (w[order] - dot(&w[..order], &in_time)).powi(2);
            sound += w[order].powi(2);
        }
        (errors > 0.0 && sound > 0.0).then(|| 10.0 * (sound / errors).log10())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;
    use takegauge_units::Millis;

    const RATE: f64 = 44_100.0;
    const AT: f64 = 0.05;

    fn located(sd_ms: f64) -> Located {
        Located { at: AT * RATE, sd: Millis(sd_ms), attack: 0.9, rivals: Default::default() }
    }

    /// A ringing string with noise under it, and `more`, told the seconds since the attack.
    fn seen(more: impl Fn(f64) -> f64) -> Release {
        let tone = |t: f64, hz: f64| (1..12).map(|k| (TAU * hz * f64::from(k) * t).sin() / f64::from(k)).sum::<f64>();
        let noise = |i: usize| ((i * 7_919 + 104_729) % 1_009) as f64 / 1_009.0 - 0.5;
        let x: Vec<f32> = (0..4_190)
            .map(|i| (i as f64 / RATE, 1e-3 * noise(i)))
            .map(|(t, n)| (0.2 * tone(t, 110.0) + n + more(t - AT)) as f32)
            .collect();
        release(&x, RATE, AT, &located(0.2), f64::INFINITY).unwrap()
    }

    #[test]
    fn a_string_falls_a_voice_rises_and_a_click_is_gone() {
        let string = seen(|t| {
            let partial = |k: u32| (-40.0 * f64::from(k) * t).exp() * (TAU * 196.0 * f64::from(k) * t).cos();
            if t < 0.0 { 0.0 } else { 0.05 * (1..20).map(partial).sum::<f64>() }
        });
        // Pulses of a glottis, swelling for 20 ms.
        let voice = seen(|t| if t < 0.0 { 0.0 } else { 0.3 * (t / 0.02).min(1.0) * (-(t % 0.008) / 4e-4).exp() });
        let click = seen(|t| if (0.0..2e-3).contains(&t) { 0.3 * (-t / 3e-4).exp() } else { 0.0 });
        assert!(string.fall > 2.0 && string.treble_fall > 2.0, "{string:?}");
        assert!(voice.fall < -2.0 && voice.treble_fall < -2.0, "{voice:?}");
        assert!(click.treble_fall > string.treble_fall + 10.0, "{click:?}");
    }

    #[test]
    fn nothing_is_said_of_silence_or_without_room() {
        assert_eq!(release(&[0.0; 4_190], RATE, AT, &located(0.1), 1.0), None);
        assert_eq!(release(&[], RATE, 0.0, &located(0.1), 1.0), None);
        assert_eq!(release(&[0.1; 100], RATE, AT, &located(0.1), 1.0), None);
        let ramp: Vec<f32> = (0..4_190).map(|i| (i % 97) as f32 * 1e-3).collect();
        assert_eq!(release(&ramp, RATE, AT, &located(0.1), 0.004), None, "the next attack comes at once");
    }
}
