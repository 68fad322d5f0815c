//! How far one list of times lies behind another: the two laid over each other at every distance.
//!
//! Two uses: the delay of a set-up from a recorded click, and where in a long recording a click track began.

use crate::{ClickError, ClickTrack};
use takegauge_stats::{Sample, robust};
use takegauge_units::{Millis, Seconds};

/// Widths of the bins in which distances are counted.
const BIN_S: f64 = 0.001;
/// Clicks that must be found again before a delay is told.
const LEAST_CLICKS: usize = 8;
/// Scatter of a delay above which it is none: a sample clock that runs away, or another recording.
const STEADY: Millis = Millis(1.0);
/// Delays sought. Below 0 where the recorder takes off more than there is.
const DELAYS: (Seconds, Seconds) = (Seconds(-0.1), Seconds(0.6));
/// A click comes back within so much of the delay.
const CLICK_WITHIN: Seconds = Seconds(0.004);

/// The distance at which most of the expected times find one that was heard.
#[derive(Debug, Clone, PartialEq)]
pub struct Offset {
    /// Heard minus expected: the median over the pairs.
    pub at: Seconds,
    /// Heard minus expected of every pair, in order of the expected times.
    pub pairs: Vec<Seconds>,
    /// Pairs at the best distance that is clearly another one.
    pub second_best: usize,
}

/// Lays `heard` over `expected` (both rising) at every distance in `range` and takes the one with the most pairs no
/// further than `within` apart; of equals the smallest. `None` where there is no pair at all, or `range` is longer than
/// a day.
pub fn offset(heard: &[Seconds], expected: &[Seconds], range: (Seconds, Seconds), within: Seconds) -> Option<Offset> {
    let span = range.1.0 - range.0.0;
    if !(0.0..=86_400.0).contains(&span) {
        return None;
    }
    let mut bins = vec![0u32; (span / BIN_S) as usize + 1];
    for e in expected {
        let first = heard.partition_point(|h| h.0 - e.0 < range.0.0);
        for h in heard[first..].iter().take_while(|h| h.0 - e.0 <= range.1.0) {
            if let Some(bin) = bins.get_mut(((h.0 - e.0 - range.0.0) / BIN_S) as usize) {
                *bin += 1;
            }
        }
    }
    let reach = (within.0 / BIN_S).ceil().max(1.0) as usize;
    let counts = sums_around(&bins, reach);
    let most = *counts.iter().max()?;
    let first = counts.iter().position(|c| *c == most && most > 0)?;
    // The middle of the stretch of equals.
    let long = counts[first..].iter().take_while(|c| **c == most).count();
    let middle = range.0.0 + (first as f64 + long as f64 / 2.0) * BIN_S;
    let coarse = median(&pairs(heard, expected, middle, within.0))?;
    let found = pairs(heard, expected, coarse, within.0);
    let listed = found.iter().map(|d| Seconds(*d)).collect();
    let at = Seconds(median(&found)?);
    let clear = |i: &usize| (range.0.0 + *i as f64 * BIN_S - at.0).abs() > 4.0 * within.0;
    let second_best = (0..counts.len()).filter(clear).map(|i| counts[i]).max().unwrap_or(0) as usize;
    Some(Offset { at, pairs: listed, second_best })
}

/// For each bin the sum of those no further than `reach` away.
fn sums_around(bins: &[u32], reach: usize) -> Vec<u64> {
    let mut before = vec![0u64; bins.len() + 1];
    for (i, b) in bins.iter().enumerate() {
        before[i + 1] = before[i] + u64::from(*b);
    }
    (0..bins.len()).map(|i| before[(i + reach + 1).min(bins.len())] - before[i.saturating_sub(reach)]).collect()
}

/// Heard minus expected of the nearest heard time of each expected one moved by `by`.
fn pairs(heard: &[Seconds], expected: &[Seconds], by: f64, within: f64) -> Vec<f64> {
    let nearest = |e: &Seconds| {
        let after = heard.partition_point(|h| h.0 < e.0 + by);
        let near = heard[after.saturating_sub(1)..].iter().take(2).map(|h| h.0 - e.0);
        near.min_by(|a, b| (a - by).abs().total_cmp(&(b - by).abs())).filter(|d| (d - by).abs() <= within)
    };
    expected.iter().filter_map(nearest).collect()
}

fn median(x: &[f64]) -> Option<f64> {
    Sample::new(x).ok().map(robust::median)
}

/// A set-up's round-trip delay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Delay {
    /// Median over the clicks found again.
    pub median: Millis,
    /// Standard deviation over them.
    pub spread: Millis,
    /// Clicks found again.
    pub n: usize,
    /// Clicks of the track.
    pub of: usize,
}

impl ClickTrack {
    /// The delay of a set-up that played this track and recorded it from the track's first sample on; `heard` are the
    /// attacks of that recording, rising.
    ///
    /// # Errors
    /// [`ClickError::NotHeard`] where fewer than 8 clicks or fewer than four in five came back, where the recording holds
    /// more else than clicks, where two delays fit alike, or where the delay scatters by more than 1 ms.
    pub fn delay(&self, heard: &[Seconds]) -> Result<Delay, ClickError> {
        let refuse = |reason: String| Err(ClickError::NotHeard { reason });
        let expected: Vec<Seconds> = self.clicks.iter().map(|c| c.at).collect();
        let of = expected.len();
        let Some(found) = offset(heard, &expected, DELAYS, CLICK_WITHIN) else {
            return refuse("none of the clicks was heard in the recording: is it a recording of this click, from its first sample on?".to_owned());
        };
        let n = found.pairs.len();
        if n < LEAST_CLICKS || 5 * n < 4 * of || 5 * n < 4 * heard.len() {
            return refuse(format!(
                "{n} of {of} clicks were found again among {} attacks, at least {LEAST_CLICKS} and four in five are needed: \
                 record the click alone, from its first sample to its last, with the same options it was written with",
                heard.len()
            ));
        }
        if found.second_best >= n {
            return refuse(
                "two delays a beat apart fit the recording alike: record the click from its first sample to its last"
                    .to_owned(),
            );
        }
        let mean = found.pairs.iter().map(|p| p.0).sum::<f64>() / n as f64;
        let variance = found.pairs.iter().map(|p| (p.0 - mean).powi(2)).sum::<f64>() / (n - 1) as f64;
        let spread = Seconds(variance.sqrt()).millis();
        if spread > STEADY {
            return refuse(format!(
                "the delay is not steady: it scatters by {:.1} ms over {n} clicks. Play and record through one device, \
                 so that both run by one clock",
                spread.0
            ));
        }
        Ok(Delay { median: found.at.millis(), spread, n, of })
    }
}

#[cfg(test)]
mod tests {
    use super::super::ClickOptions;
    use super::*;
    use takegauge_drill::named;

    fn track() -> ClickTrack {
        ClickTrack::of(&named("outside-pair").unwrap(), &ClickOptions::default()).unwrap()
    }

    fn heard(track: &ClickTrack, late: impl Fn(usize) -> f64) -> Vec<Seconds> {
        track.clicks.iter().enumerate().map(|(i, c)| Seconds(c.at.0 + late(i))).collect()
    }

    #[test]
    fn a_delay_comes_back_exactly() {
        let t = track();
        for late in [-0.02, 0.0, 0.0117, 0.35, 0.55] {
            let d = t.delay(&heard(&t, |i| late + 1e-4 * (i % 2) as f64)).unwrap();
            assert!((d.median.0 - 1e3 * (late + 5e-5)).abs() < 0.051, "{late}: {d:?}");
            assert_eq!((d.n, d.of), (t.clicks.len(), t.clicks.len()));
            assert!((d.spread.0 - 0.05).abs() < 0.01);
        }
    }

    #[test]
    fn what_says_no_delay_is_refused_with_the_reason() {
        let t = track();
        let reason = |h: &[Seconds]| t.delay(h).unwrap_err().to_string();
        assert!(reason(&[]).contains("none of the clicks"));
        assert!(reason(&heard(&t, |_| 0.01)[..5]).contains("5 of"));
        assert!(reason(&heard(&t, |i| 0.01 + 4e-4 * (i % 16) as f64)).contains("scatters"));
        // The first click lost: each may be the one before it.
        assert!(reason(&heard(&t, |_| -0.05)[1..]).contains("two delays"));
    }

    #[test]
    fn an_offset_of_many_seconds_is_found_among_misses_and_extras() {
        let expected: Vec<Seconds> = (0..200).map(|i| Seconds(f64::from(i) * (0.1 + 1e-4 * f64::from(i)))).collect();
        let mut heard: Vec<Seconds> = expected
            .iter()
            .enumerate()
            .filter(|(i, _)| i % 7 != 0)
            .map(|(i, e)| Seconds(e.0 + 41.5 + 0.004 * ((i * 37 % 11) as f64 - 5.0) / 5.0))
            .collect();
        heard.extend((0..40).map(|i| Seconds(0.97 * f64::from(i))));
        heard.sort_by(|a, b| a.0.total_cmp(&b.0));
        let found = offset(&heard, &expected, (Seconds(-60.0), Seconds(60.0)), Seconds(0.02)).unwrap();
        assert!((found.at.0 - 41.5).abs() < 0.003 && found.pairs.len() > 160, "{found:?}");
        assert_eq!(offset(&heard, &expected, (Seconds(0.0), Seconds(f64::NAN)), Seconds(0.1)), None);
    }
}
