//! Evenness of inter-onset intervals: SD, coefficient of variation, nPVI.

use crate::error::{Result, StatsError};
use crate::intervals::sd_interval;
use crate::moments::raw_mean;
use crate::sample::{Estimate, Interval, Sample, same_length};

/// Evenness of intervals that ought to be equal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evenness {
    /// Mean interval.
    pub mean: f64,
    /// SD of the intervals. Its interval assumes them independent; successive intervals share an onset, so that it is
    /// somewhat off: for a report use the bootstrap by repeat.
    pub sd: Estimate,
    /// SD over mean, as a ratio.
    pub coefficient_of_variation: Estimate,
}

/// SD and coefficient of variation of positive intervals.
///
/// # Errors
/// [`StatsError::TooFew`] below two intervals, [`StatsError::OutOfRange`] if one is not above 0 or for a bad confidence.
pub fn evenness(intervals: Sample, confidence: f64) -> Result<Evenness> {
    above_zero(intervals)?;
    let sd = sd_interval(intervals, confidence)?;
    let mean = raw_mean(intervals.values());
    let interval = Interval { low: sd.interval.low / mean, high: sd.interval.high / mean };
    Ok(Evenness { mean, sd, coefficient_of_variation: Estimate { value: sd.value / mean, interval, n: sd.n } })
}

/// Normalised pairwise variability index, 0 to 200: 100/(m - 1) sum |d_k - d_(k+1)| / ((d_k + d_(k+1))/2) over m
/// durations (Grabe & Low 2002, Papers in Laboratory Phonology 7:515).
///
/// # Errors
/// [`StatsError::TooFew`] below two durations, [`StatsError::OutOfRange`] if one is not above 0.
pub fn npvi(durations: Sample) -> Result<f64> {
    durations.need(2)?;
    above_zero(durations)?;
    let d = durations.values();
    let total: f64 = d.windows(2).map(|w| (w[0] - w[1]).abs() / (0.5 * (w[0] + w[1]))).sum();
    Ok(100.0 * total / (d.len() - 1) as f64)
}

/// The nPVI of durations each divided by its nominal one, so that a line of unequal note values played exactly gives 0
/// (on the misuse without it: Condit-Schultz 2019, Music Percept. 36:300).
///
/// # Errors
/// As [`npvi`], for either list, and [`StatsError::LengthMismatch`].
pub fn npvi_of_nominal(durations: Sample, nominal: Sample) -> Result<f64> {
    same_length(durations.len(), nominal.len())?;
    above_zero(nominal)?;
    let ratios: Vec<f64> = durations.values().iter().zip(nominal.values()).map(|(d, n)| d / n).collect();
    npvi(Sample::new(&ratios)?)
}

fn above_zero(sample: Sample) -> Result<()> {
    if sample.values().iter().all(|&v| v > 1e-60) {
        Ok(())
    } else {
        Err(StatsError::OutOfRange { what: "duration", allowed: "above 0" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn npvi_of_published_examples() {
        // Worked examples in the documentation of npyvi (a published implementation of Grabe & Low 2002).
        for (d, wanted) in [
            ([1.0, 2.0, 3.0], 53.333333333333336),
            ([3.0, 3.0, 6.0], 33.33333333333333),
            ([4.0, 6.0, 8.0], 34.285714285714285),
        ] {
            assert!((npvi(Sample::new(&d).unwrap()).unwrap() - wanted).abs() < 1e-12);
        }
        assert_eq!(npvi(Sample::new(&[125.0; 9]).unwrap()), Ok(0.0));
        // Alternating 120 and 130: each pair gives 100 * 10 / 125.
        let uneven: Vec<f64> = (0..20).map(|k| if k % 2 == 0 { 120.0 } else { 130.0 }).collect();
        assert!((npvi(Sample::new(&uneven).unwrap()).unwrap() - 8.0).abs() < 1e-12);
    }

    #[test]
    fn unequal_note_values_played_exactly_are_even() {
        let nominal = [1.0, 2.0, 0.5];
        let played = [100.0, 200.0, 50.0];
        let (p, n) = (Sample::new(&played).unwrap(), Sample::new(&nominal).unwrap());
        assert_eq!(npvi_of_nominal(p, n), Ok(0.0));
        assert!(npvi(p).unwrap() > 60.0);
        assert!(npvi_of_nominal(p, Sample::new(&[1.0]).unwrap()).is_err());
    }

    #[test]
    fn the_coefficient_of_variation_has_no_unit() {
        let y = [90.0, 100.0, 110.0];
        let e = evenness(Sample::new(&y).unwrap(), 0.95).unwrap();
        assert_eq!((e.mean, e.sd.value, e.coefficient_of_variation.value), (100.0, 10.0, 0.1));
        assert!(evenness(Sample::new(&[1.0, 0.0]).unwrap(), 0.95).is_err());
    }

    proptest! {
        #[test]
        fn npvi_lies_between_0_and_200(d in prop::collection::vec(1e-9f64..1e9, 2..40)) {
            let v = npvi(Sample::new(&d).unwrap()).unwrap();
            prop_assert!((0.0..=200.0).contains(&v));
        }
    }
}
