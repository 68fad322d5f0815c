//! The pick's touch on a string that sounds: it stills the string for a few milliseconds, and the attack is the rise out
//! of that silence. What the touch itself brings is new as well, and would be taken for the attack.

use crate::transient::PAST_MS;

/// The silence lasts at least so long, ms, ...
const SILENCE_MS: f64 = 2.0;
/// ... and holds at most this share of the power of the quietest such gap before it: the pulses of a low string are
/// apart, too.
const LEFT: f64 = 0.1;
/// The rise brings within so long, ms, ...
const RISE_MS: f64 = 0.8;
/// ... at least this share of the strongest rise nearby, and so many times the power of the silence.
const SHARE: f64 = 0.1;
const TIMES: f64 = 10.0;
/// Power below this share of the strongest is none.
const FLOOR: f64 = 1e-4;

/// Where such a silence ends, a sample of `audio`, within `window` samples around `centre`; `ms` samples are a
/// millisecond. `None` where nothing was stilled, or too little of the past is at hand.
pub(crate) fn silence_ends(audio: &[f32], centre: i64, window: i64, ms: f64) -> Option<usize> {
    let n = |t: f64| (t * ms).round() as usize;
    let (quiet, rise) = (n(SILENCE_MS).max(1), n(RISE_MS).max(1));
    let begin = usize::try_from(centre - window).ok()?;
    let from = begin.checked_sub(n(PAST_MS))?;
    let to = usize::try_from(centre + window).ok()?.saturating_add(rise).min(audio.len());
    let mut sum = 0.0f64;
    let mut sums = vec![0.0];
    sums.extend(audio.get(from..to)?.iter().map(|x| {
        sum += f64::from(*x) * f64::from(*x);
        sum
    }));
    let mean = |a: usize, b: usize| (sums[b - from] - sums[a - from]).max(0.0) / (b - a) as f64;
    let last = to.checked_sub(rise)?;
    let gap = (from + quiet..begin.min(last)).map(|t| mean(t - quiet, t)).fold(f64::MAX, f64::min);
    let strongest = (begin..last).map(|t| mean(t, t + rise)).fold(0.0, f64::max);
    let mut best: Option<(f64, usize)> = None;
    for t in begin + quiet..last {
        let (left, comes) = (mean(t - quiet, t), mean(t, t + rise));
        if left > LEFT * gap || comes < SHARE * strongest {
            continue;
        }
        let times = comes / (left + FLOOR * strongest);
        if times > best.map_or(TIMES, |b| b.0) {
            best = Some((times, t));
        }
    }
    best.map(|b| b.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    const MS: f64 = 22.05;

    /// Where the silence ends in a sound of 110 Hz and its partials, as `f` makes it of them and the time in ms.
    fn ends(f: impl Fn(f64, f64) -> f64) -> Option<f64> {
        let tone = |t: f64| (1..12).map(|k| (TAU * 0.11 * f64::from(k) * t).sin()).sum::<f64>() / 6.0;
        let x: Vec<f32> = (0..2_000).map(|i| i as f64 / MS).map(|t| f(t, tone(t)) as f32).collect();
        silence_ends(&x, (50.0 * MS) as i64, (8.0 * MS) as i64, MS).map(|i| i as f64 / MS)
    }

    #[test]
    fn the_rise_out_of_a_stilled_string_is_found() {
        let stilled = |t: f64, x: f64| match t {
            ..47.0 => x,
            47.0..52.0 => 0.01 * x,
            _ => (TAU * 0.15 * (t - 52.0)).cos(),
        };
        assert!(ends(stilled).is_some_and(|t| (t - 52.0).abs() < 0.3), "{:?}", ends(stilled));
    }

    #[test]
    fn gaps_between_pulses_and_notes_over_a_ringing_string_are_none() {
        assert_eq!(ends(|_, x| x), None);
        assert_eq!(ends(|t, x| x + if t < 50.0 { 0.0 } else { (TAU * 0.15 * t).cos() }), None);
        assert_eq!(ends(|t, x| if t < 50.0 { x } else { 0.0 }), None);
        assert_eq!(silence_ends(&[0.0; 100], 50, 20, MS), None);
        assert_eq!(silence_ends(&[], 0, 8, MS), None);
    }
}
