//! Whether something new goes on sounding: a string that was struck sounds for long, and what sounded before does not
//! foretell it. A click, a splice or a jump of a distorted sound cannot be foretold either, but what follows it can.

use crate::decimate::{decimate, factor};
use crate::dot::dot;
use crate::predict::fit;
use crate::tuning::lasting::{AFTER_MS, BANDS, BEFORE_MS, BLOCK_MS, LEARNT_MS, LEARNT_TO_MS, LEAST_MS};
use crate::tuning::sound::CLEAR_OF_OTHERS_MS;
use takegauge_stats::robust::upper_median;

/// A place in a stretch of sound, seconds from its start, with the distances to the attacks before and after it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    pub(crate) at: f64,
    pub(crate) since_last: f64,
    pub(crate) until_next: f64,
}

/// How many times larger the errors of prediction are after a place than before: geometric mean over the bands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Newness {
    /// About 1 where nothing new sounds; attacks of strings are hardly ever below [`NEW`](crate::tuning::lasting::NEW),
    /// unless they are much softer than what they end.
    pub(crate) times: f64,
    /// The same of the errors' share of the sound, before and after.
    pub(crate) of_share: f64,
}

/// What is new in `stretch` after a place. `None` where the neighbours are too near or there is silence.
pub(crate) fn newness(stretch: &[f32], rate: f64, place: Place) -> Option<Newness> {
    let until_ms = (1e3 * place.until_next - CLEAR_OF_OTHERS_MS).min(AFTER_MS.1);
    let before_ms = (1e3 * place.since_last - LEARNT_TO_MS - CLEAR_OF_OTHERS_MS).min(BEFORE_MS);
    if until_ms < AFTER_MS.0 + LEAST_MS || before_ms < LEAST_MS {
        return None;
    }
    let (mut logs, mut shares) = (0.0, 0.0);
    let mut bands = 0.0;
    let mut last_factor = 0;
    for (rate_hz, order) in BANDS {
        let by = factor(rate, rate_hz);
        if by != last_factor {
            last_factor = by;
            let decimated = decimate(stretch, rate, by);
            let grown = grows(&decimated.samples, decimated.rate, order, place.at, before_ms, until_ms)?;
            logs += grown.times.ln();
            shares += grown.of_share.ln();
            bands += 1.0;
        }
    }
    let mean = |sum: f64| (sum / bands).exp();
    Some(Newness { times: mean(logs), of_share: mean(shares) })
}

fn grows(samples: &[f32], rate: f64, order: usize, at: f64, before_ms: f64, until_ms: f64) -> Option<Newness> {
    let sample = |ms: f64| ((at + 1e-3 * ms) * rate).round();
    let index = |ms: f64| (sample(ms) >= 0.0).then(|| sample(ms) as usize);
    let to = index(-LEARNT_TO_MS)?;
    let from = index(-LEARNT_TO_MS - LEARNT_MS).unwrap_or(0);
    let (after, end) = (index(AFTER_MS.0)?, index(until_ms)?);
    if end > samples.len() || after <= to {
        return None;
    }
    let x: Vec<f64> = samples[from..end].iter().map(|s| f64::from(*s)).collect();
    let coefficients = fit(&x[..to - from], order)?;
    let in_time: Vec<f64> = coefficients.iter().rev().copied().collect();
    let power = |from: usize, to: usize| {
        let errors = x.get(from.saturating_sub(order)..to).unwrap_or(&[]).windows(order + 1);
        let n = errors.len();
        let sum: f64 = errors.map(|w| (w[order] - dot(&w[..order], &in_time)).powi(2)).sum();
        (n > 0).then(|| sum / n as f64)
    };
    let quiet_from = index(-LEARNT_TO_MS - before_ms).unwrap_or(0).max(from) - from;
    let block = ((1e-3 * BLOCK_MS * rate).round() as usize).max(1);
    let ends = (quiet_from + block..=to - from).step_by(block);
    let before = upper_median(ends.filter_map(|end| power(end - block, end)))?;
    let anew = power(after - from, end - from)?;
    let level = |from: usize, to: usize| x[from..to].iter().map(|v| v * v).sum::<f64>() / (to - from).max(1) as f64;
    let (was, is) = (level(quiet_from, to - from), level(after - from, end - from));
    let times = (before > 0.0 && anew > 0.0).then(|| (anew / before).sqrt())?;
    (was > 0.0 && is > 0.0).then(|| Newness { times, of_share: times * (was / is).sqrt() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    const RATE: f64 = 44_100.0;

    fn newness_at(at: f64, sound: impl Fn(f64) -> f64) -> Option<f64> {
        // A little noise: a pure tone would be foretold to rounding.
        let noise = |i: usize| ((i * 7_919 + 104_729) % 1_009) as f64 / 1_009.0 - 0.5;
        let x: Vec<f32> = (0..6_615).map(|i| (sound(i as f64 / RATE) + 1e-3 * noise(i)) as f32).collect();
        newness(&x, RATE, Place { at, since_last: f64::INFINITY, until_next: f64::INFINITY }).map(|n| n.times)
    }

    #[test]
    fn a_new_note_lasts_and_a_splice_does_not() {
        let tone = |t: f64, hz: f64| (1..6).map(|k| (TAU * hz * f64::from(k) * t).sin() / f64::from(k)).sum::<f64>();
        let note = newness_at(0.1, |t| tone(t, 110.0) + if t < 0.1 { 0.0 } else { 0.3 * tone(t - 0.1, 163.0) });
        assert!(note.is_some_and(|n| n > 5.0), "{note:?}");
        let splice = newness_at(0.1, |t| tone(if t < 0.1 { t } else { t + 0.0037 }, 110.0));
        assert!(splice.is_some_and(|n| n < 1.4), "{splice:?}");
        let click = newness_at(0.1, |t| tone(t, 110.0) + if (0.1..0.101).contains(&t) { 0.8 } else { 0.0 });
        assert!(click.is_some_and(|n| n < 1.4), "{click:?}");
    }

    #[test]
    fn nothing_is_said_of_silence_or_without_room() {
        let place = |at: f64, gap: f64| Place { at, since_last: gap, until_next: gap };
        assert_eq!(newness(&[0.0; 6_615], RATE, place(0.1, 1.0)), None);
        assert_eq!(newness(&[0.1; 6_615], RATE, place(0.1, 0.005)), None);
        assert_eq!(newness(&[0.1; 100], RATE, place(0.1, 1.0)), None);
        assert_eq!(newness(&[], RATE, place(0.0, 1.0)), None);
    }
}
