//! What is left of the sound once the note that was sounding is taken off.
//!
//! A string repeats itself from period to period. So the sound some periods ago, scaled, foretells it; what it does
//! not foretell is new. The lag is fitted before the search window and is longer than the window, so the new note
//! never foretells itself.

use crate::wide::wide;

/// Lag and gain that foretell the sound best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Repeat {
    /// Samples back.
    pub(crate) lag: usize,
    /// Amplitude now over amplitude then.
    pub(crate) gain: f32,
    /// Share of the power that is not foretold, 0..=1.
    pub(crate) left: f32,
}

/// Samples to one in the first, coarse search.
const COARSE: usize = 4;

/// Fits the lag, from `least` to `most` samples, on `audio[from..to]`. `None` without enough audio or sound.
pub(crate) fn fit(audio: &[f32], from: usize, to: usize, least: usize, most: usize) -> Option<Repeat> {
    if from < most + 2 * COARSE || to > audio.len() || to < from + 8 * COARSE {
        return None;
    }
    let base = from - most - COARSE;
    let coarse: Vec<f32> =
        audio[base..to].as_chunks::<COARSE>().0.iter().map(|c| (c[0] + c[1]) + (c[2] + c[3])).collect();
    let at = (from - base) / COARSE;
    let target = &coarse[at..];
    let best = |range: std::ops::RangeInclusive<usize>, x: &[f32], at: usize, target: &[f32]| {
        let mut best = (f32::MIN, 0usize);
        for lag in range {
            let then = &x[at - lag..at - lag + target.len()];
            let (cross, power) = products(target, then);
            let score = cross * cross.abs() / (power + f32::MIN_POSITIVE);
            if score > best.0 {
                best = (score, lag);
            }
        }
        best
    };
    let (_, lag) = best(least.div_ceil(COARSE)..=most / COARSE, &coarse, at, target);
    let target = &audio[from..to];
    let low = (lag * COARSE).saturating_sub(COARSE).max(least);
    let high = (lag * COARSE + COARSE).min(most);
    let (score, lag) = best(low..=high, audio, from, target);
    let (power, _) = products(target, target);
    if power <= 0.0 || score <= 0.0 {
        return None;
    }
    let (cross, then) = products(target, &audio[from - lag..to - lag]);
    Some(Repeat { lag, gain: (cross / then).min(1.2), left: (1.0 - score / power).clamp(0.0, 1.0) })
}

/// (a . b, b . b) in running sums that vectorise.
fn products(a: &[f32], b: &[f32]) -> (f32, f32) {
    wide(
        #[inline(always)]
        || {
            let (mut ab, mut bb) = ([0.0f32; 8], [0.0f32; 8]);
            for (x, y) in a.as_chunks::<8>().0.iter().zip(b.as_chunks::<8>().0) {
                for i in 0..8 {
                    ab[i] += x[i] * y[i];
                    bb[i] += y[i] * y[i];
                }
            }
            (ab.iter().sum(), bb.iter().sum())
        },
    )
}
