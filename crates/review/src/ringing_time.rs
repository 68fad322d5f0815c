//! How long a kind of change rings over, from the readings of its notes.

use takegauge_stats::{Interval, Sample, bootstrap, robust};

use crate::estimates::{LEAST_FOR_ESTIMATES, middle};

/// What a reading is off by whatever the number of notes, half of a 95 % interval, ms and of its length: a string that is
/// stopped within 20 ms reads short, one that dies away slowly or beside others too long. Chosen on string-model guitars
/// from number 10,000 on (`examples/ringing.rs` of the take room; reports/ringing.md is of others).
const READING_OFF_MS: f64 = 13.0;
const READING_OFF_OF_LENGTH: f64 = 0.12;
/// Readings further from the middle than so many MAD, as factors, are of another string or of the line's own notes.
const FAR_MADS: f64 = 4.0;

/// The middle of the readings, ms; 0 of none.
pub(crate) fn ringing_time(readings: &[f64]) -> f64 {
    middle(&without_far_ones(readings))
}

/// How many of the readings it rests on.
pub(crate) fn readings_used(readings: &[f64]) -> usize {
    without_far_ones(readings).len()
}

/// Its 95 % interval, ms, where there are readings enough.
pub(crate) fn ringing_range(readings: &[f64], seed: u64) -> Option<Interval> {
    let kept = without_far_ones(readings);
    let sample = Sample::at_least(&kept, LEAST_FOR_ESTIMATES).ok()?;
    let by_chance = bootstrap::percentile(sample, bootstrap::Plan::new(seed), |v| Some(middle(v))).ok()?.interval;
    let value = middle(&kept);
    let wider = |by_chance: f64| by_chance.hypot(READING_OFF_MS.max(READING_OFF_OF_LENGTH * value));
    let low = (value - wider(value - by_chance.low)).max(0.0);
    Some(Interval { low, high: value + wider(by_chance.high - value) })
}

/// Lengths of ringing scatter by factors.
fn without_far_ones(readings: &[f64]) -> Vec<f64> {
    let logs: Vec<f64> = readings.iter().map(|ms| ms.max(1.0).ln()).collect();
    let far = Sample::new(&logs).and_then(|s| robust::slips(s, FAR_MADS)).unwrap_or_default();
    readings.iter().enumerate().filter(|(i, _)| !far.contains(i)).map(|(_, ms)| *ms).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_of_something_else_do_not_move_it() {
        let both = |readings: &[f64]| (ringing_time(readings), ringing_range(readings, 1).unwrap());
        let mut readings: Vec<f64> = (0..12).map(|k| 84.0 + f64::from(k % 4)).collect();
        let (value, range) = both(&readings);
        readings.extend([429.0, 431.0]);
        assert_eq!(both(&readings), (value, range));
        assert!((value - 85.5).abs() < 0.6 && range.low < 73.0 && range.high > 98.0 && range.high < 101.0, "{range:?}");
    }

    #[test]
    fn few_readings_have_no_interval_and_equal_ones_are_all_kept() {
        assert_eq!((ringing_time(&[85.0; 7]), ringing_range(&[85.0; 7], 1)), (85.0, None));
        assert_eq!(ringing_range(&[33.0; 20], 1), Some(Interval { low: 20.0, high: 46.0 }));
        assert_eq!((ringing_time(&[]), ringing_range(&[], 1)), (0.0, None));
    }
}
