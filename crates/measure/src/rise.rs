//! The steepest rise of a note beside its foot: a second reference for its time.
//!
//! What the foot of a leading edge looks like differs from instrument to instrument and from string to string; where it
//! rises most, in dB, depends on other things. What a player does moves both alike, so a figure about strings or pitches
//! that stands by one alone may be the instrument's.

use crate::tuning::rise::{APART_S, EACH_MS, FLOOR, SOUGHT_MS};
use takegauge_units::Millis;

/// How long after the foot, which lies `foot` seconds into `sound`, it rises most; `None` of silence and where the sound
/// is cut.
pub(crate) fn steepest(sound: &[f32], rate: f64, foot: f64) -> Option<Millis> {
    let samples = |ms: f64| (1e-3 * ms * rate).round() as usize;
    let (each, apart) = (samples(EACH_MS).max(1), ((APART_S * rate).round() as usize).max(1));
    let difference = |k: usize| f64::from(sound[k + apart]) - f64::from(sound[k]);
    let mut sum = 0.0;
    // sums[k]: power of the differences before the one at sample k.
    let mut sums = vec![0.0];
    sums.extend((0..sound.len().saturating_sub(apart)).map(|k| {
        sum += difference(k).powi(2);
        sum
    }));
    let power = |from: usize| Some(sums.get(from + each)? - sums.get(from)?);
    let foot_at = (foot * rate).round() as usize;
    let from = foot_at.saturating_sub(samples(SOUGHT_MS.0)).max(each);
    let moments = from..=foot_at + samples(SOUGHT_MS.1);
    let loudest = moments.clone().filter_map(power).fold(0.0, f64::max);
    if !loudest.is_normal() {
        return None;
    }
    let rise = |at: usize| Some((power(at)? + FLOOR * loudest) / (power(at - each)? + FLOOR * loudest));
    let best = moments.filter_map(|at| Some((at, rise(at)?))).fold(None, |best: Option<(usize, f64)>, m| match best {
        Some(b) if b.1 >= m.1 => Some(b),
        _ => Some(m),
    });
    best.map(|(at, _)| Millis(1e3 * (at as f64 / rate - foot)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tone that begins at `at` s within `edge` s, over another that rings on.
    fn sound(rate: f64, at: f64, edge: f64) -> Vec<f32> {
        let tone = |f: f64, t: f64| (std::f64::consts::TAU * f * t).sin();
        (0..(0.05 * rate) as usize)
            .map(|k| {
                let t = k as f64 / rate;
                let new = ((t - at) / edge).clamp(0.0, 1.0) * (tone(1_400.0, t - at) + 0.5 * tone(3_100.0, t - at));
                (0.1 * tone(330.0, t) + 0.5 * new) as f32
            })
            .collect()
    }

    #[test]
    fn the_rise_is_found_from_wherever_the_foot_was_put() {
        for rate in [8_000.0, 44_100.0, 96_000.0] {
            for foot in [0.024, 0.025, 0.03, 0.036] {
                let found = steepest(&sound(rate, 0.025, 1e-4), rate, foot).unwrap();
                assert!((1e-3 * found.0 + foot - 0.025).abs() < 1e-3, "{rate} {foot}: {found:?}");
            }
        }
    }

    #[test]
    fn a_slow_edge_rises_later_than_its_foot() {
        let rise = |edge: f64| steepest(&sound(44_100.0, 0.025, edge), 44_100.0, 0.025).unwrap().0;
        assert!(rise(8e-3) > rise(1e-4) + 0.3, "{} {}", rise(8e-3), rise(1e-4));
    }

    #[test]
    fn nothing_rises_in_silence_or_in_no_sound_at_all() {
        assert_eq!(steepest(&[0.0; 2_000], 44_100.0, 0.02), None);
        assert_eq!(steepest(&[], 44_100.0, 0.02), None);
        assert_eq!(steepest(&[0.1; 3], 44_100.0, 0.0), None);
    }
}
