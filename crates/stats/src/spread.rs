//! Spread within the places of a line, and the systematic profile over the places.
//!
//! A note of the line that is always late is bias, not scatter: spread is the SD of values about the mean of their own
//! place, pooled over places, with n minus the number of places as degrees of freedom (one-way analysis of variance;
//! the split into systematic and trial-to-trial parts: van Vugt, Jabusch & Altenmüller 2012, Front. Psychol. 3:495).

use crate::bootstrap::members_of;
use crate::dist::chi_square_quantile;
use crate::error::{Result, StatsError};
use crate::intervals::variance_interval;
use crate::moments::{raw_mean, raw_sum_of_squares};
use crate::sample::{Estimate, Interval, Sample, check_confidence, same_length};

/// A pooled variance within places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WithinPlaces {
    /// Pooled variance, in the square of the values' unit; negative only after [`WithinPlaces::minus`].
    pub variance: f64,
    /// Its chi-square interval; signed after [`WithinPlaces::minus`].
    pub interval: Interval,
    /// One-sided 95 % upper limit of the variance.
    pub upper_limit: f64,
    /// n minus the number of places.
    pub degrees_of_freedom: usize,
    /// Number of values.
    pub n: usize,
}

/// How a spread is to be told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    /// The SD and its interval.
    Sd(Estimate),
    /// The interval of the variance reaches 0: only the one-sided 95 % upper limit of the SD can be told.
    Below {
        /// The upper limit.
        limit: f64,
        /// Number of values.
        n: usize,
    },
    /// Even the upper limit lies below 0: what was subtracted is larger than all that was seen.
    Unresolved,
}

/// Pools the variance within places; `places[k]` names the place of value k.
///
/// # Errors
/// [`StatsError::LengthMismatch`]; [`StatsError::TooFew`] if no place holds two values; [`StatsError::OutOfRange`] for a
/// bad confidence.
pub fn within_places(sample: Sample, places: &[usize], confidence: f64) -> Result<WithinPlaces> {
    same_length(sample.len(), places.len())?;
    check_confidence(confidence)?;
    let members = members_of(places);
    let (n, p) = (sample.len(), members.len());
    if n <= p {
        return Err(StatsError::TooFew { needed: p + 1, got: n });
    }
    let squares: f64 = members.iter().map(|m| raw_sum_of_squares(&pick(sample, m))).sum();
    let df = n - p;
    let variance = squares / df as f64;
    let interval = variance_interval(variance, df, confidence)?;
    let upper_limit = squares / chi_square_quantile(0.05, df as f64);
    Ok(WithinPlaces { variance, interval, upper_limit, degrees_of_freedom: df, n })
}

impl WithinPlaces {
    /// Subtracts a known variance, such as the detector's own, from estimate, interval and limit. Nothing is cut off at
    /// 0: a negative estimate is one, and averaging it with others stays unbiased.
    ///
    /// # Errors
    /// [`StatsError::OutOfRange`] unless `known_variance` is a number of at least 0.
    pub fn minus(self, known_variance: f64) -> Result<Self> {
        if !(0.0..1e120).contains(&known_variance) {
            return Err(StatsError::OutOfRange { what: "variance to subtract", allowed: "0 or above" });
        }
        Ok(Self {
            variance: self.variance - known_variance,
            interval: Interval { low: self.interval.low - known_variance, high: self.interval.high - known_variance },
            upper_limit: self.upper_limit - known_variance,
            ..self
        })
    }

    /// The SD with its interval, or only a limit where the interval of the variance reaches 0.
    pub fn spread(self) -> Spread {
        if self.interval.low > 0.0 {
            let interval = Interval { low: self.interval.low.sqrt(), high: self.interval.high.sqrt() };
            Spread::Sd(Estimate { value: self.variance.sqrt(), interval, n: self.n })
        } else if self.upper_limit > 0.0 {
            Spread::Below { limit: self.upper_limit.sqrt(), n: self.n }
        } else {
            Spread::Unresolved
        }
    }
}

/// One place of the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// The place's number as given.
    pub place: usize,
    /// The mean of its values, with an interval from the variance pooled over all places.
    pub mean: Estimate,
}

/// The systematic profile over the places against the scatter from trial to trial.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Places in rising order of their number.
    pub places: Vec<Place>,
    /// Variance between places beyond what scatter alone would give, signed (method of moments: Searle, Casella &
    /// McCulloch 1992, Variance Components, sect. 3.6).
    pub systematic_variance: f64,
    /// Variance within places.
    pub trial_to_trial_variance: f64,
}

/// Means by place and the split of variance.
///
/// # Errors
/// As [`within_places`], and [`StatsError::TooFew`] for a single place.
pub fn profile(sample: Sample, places: &[usize], confidence: f64) -> Result<Profile> {
    let within = within_places(sample, places, confidence)?;
    let members = members_of(places);
    if members.len() < 2 {
        return Err(StatsError::TooFew { needed: 2, got: members.len() });
    }
    let df = within.degrees_of_freedom as f64;
    let t = crate::dist::t_quantile(0.5 + 0.5 * confidence, df);
    let (n, p) = (sample.len() as f64, members.len() as f64);
    let grand = raw_mean(sample.values());
    let mut found = Vec::with_capacity(members.len());
    let (mut between, mut sizes_squared) = (0.0, 0.0);
    for m in &members {
        let (size, value) = (m.len() as f64, raw_mean(&pick(sample, m)));
        between += size * (value - grand).powi(2);
        sizes_squared += size * size;
        let reach = t * (within.variance / size).sqrt();
        let interval = Interval { low: value - reach, high: value + reach };
        found.push(Place { place: places[m[0]], mean: Estimate { value, interval, n: m.len() } });
    }
    let typical_size = (n - sizes_squared / n) / (p - 1.0);
    let systematic_variance = (between / (p - 1.0) - within.variance) / typical_size;
    Ok(Profile { places: found, systematic_variance, trial_to_trial_variance: within.variance })
}

fn pick(sample: Sample, indices: &[usize]) -> Vec<f64> {
    indices.iter().map(|&i| sample.values()[i]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Seeded;
    use proptest::prelude::*;

    #[test]
    fn a_steady_offset_of_a_place_is_no_scatter() {
        let y = [0.0, 50.0, 2.0, 52.0];
        let w = within_places(Sample::new(&y).unwrap(), &[0, 1, 0, 1], 0.95).unwrap();
        assert_eq!((w.variance, w.degrees_of_freedom), (2.0, 2));
        let p = profile(Sample::new(&y).unwrap(), &[4, 9, 4, 9], 0.95).unwrap();
        assert_eq!((p.places[1].place, p.places[1].mean.value), (9, 51.0));
        // Between mean square 2 * 2 * 25^2 = 2500; (2500 - 2) / 2.
        assert_eq!(p.systematic_variance, 1249.0);
    }

    #[test]
    fn subtraction_is_signed_and_told_as_a_limit_or_not_at_all() {
        let mut rng = Seeded::new(2);
        let y: Vec<f64> = (0..100).map(|_| rng.normal()).collect();
        let places: Vec<usize> = (0..100).map(|k| k % 10).collect();
        let w = within_places(Sample::new(&y).unwrap(), &places, 0.95).unwrap();
        assert!(matches!(w.spread(), Spread::Sd(e) if e.interval.holds(1.0) && e.n == 100));
        let less = w.minus(w.variance * 1.01).unwrap();
        assert!(less.variance < 0.0);
        assert!(matches!(less.spread(), Spread::Below { limit, n: 100 } if limit > 0.0 && limit < 1.0));
        assert_eq!(w.minus(100.0).unwrap().spread(), Spread::Unresolved);
        assert!(w.minus(-1.0).is_err());
    }

    #[test]
    fn the_detector_comes_out_unbiased() {
        // True SD 3, detector SD 2, 4 values at each of 20 places that differ by 5: the mean of the signed estimates is 9.
        let mut rng = Seeded::new(8);
        let runs = 400;
        let total: f64 = (0..runs)
            .map(|_| {
                let places: Vec<usize> = (0..80).map(|k| k % 20).collect();
                let offset: Vec<f64> = (0..20).map(|_| 5.0 * rng.normal()).collect();
                let y: Vec<f64> = places.iter().map(|&p| offset[p] + 3.0 * rng.normal() + 2.0 * rng.normal()).collect();
                within_places(Sample::new(&y).unwrap(), &places, 0.95).unwrap().minus(4.0).unwrap().variance
            })
            .sum();
        // SE of one estimate: 13 sqrt(2/60) = 2.4; of the mean 0.12; four of those.
        assert!((total / f64::from(runs) - 9.0).abs() < 0.48, "{}", total / f64::from(runs));
    }

    proptest! {
        #[test]
        fn estimates_lie_in_their_intervals(y in prop::collection::vec(-1e6f64..1e6, 4..50)) {
            let places: Vec<usize> = (0..y.len()).map(|k| k % 3).collect();
            let w = within_places(Sample::new(&y).unwrap(), &places, 0.95).unwrap();
            prop_assert!(w.interval.holds(w.variance) && w.upper_limit >= w.variance);
        }
    }
}
