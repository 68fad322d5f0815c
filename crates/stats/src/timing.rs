//! Clock and motor parts of timing after Wing & Kristofferson (1973), Percept. Psychophys. 14:5 and 13:455.
//!
//! I_j = C_j + D_j - D_(j-1), so g0 = s2C + 2 s2M, g1 = -s2M: s2M = -g1 and s2C = g0 + 2 g1. Estimates are signed and
//! never cut off at 0: a negative one says that the model does not hold. Two cautions belong with every figure: the
//! variance of a detector's time error enters the motor part whole, and the model is of playing without a click.

use crate::bootstrap::members_of;
use crate::dist::t_quantile;
use crate::error::{Result, StatsError};
use crate::moments::raw_mean;
use crate::sample::{Estimate, Interval, Sample, check_confidence, same_length};

/// Fewer intervals than this give no split: with 60 of them one take in 12 has a lag-1 covariance of the wrong sign.
pub const LEAST_INTERVALS: usize = 200;

/// Stretches of the take left out in turn for the standard errors.
const STRETCHES: usize = 20;

/// The two variances as the covariances give them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Split {
    /// Clock variance g0 + 2 g1, signed.
    pub clock_variance: f64,
    /// Motor variance -g1, signed.
    pub motor_variance: f64,
}

impl Split {
    /// From the variance and the lag-1 covariance of the intervals.
    pub fn from_covariances(variance: f64, lag1: f64) -> Self {
        Self { clock_variance: variance + 2.0 * lag1, motor_variance: -lag1 }
    }

    /// Clock SD and motor SD; `None` where the model does not hold because a variance is negative.
    pub fn sds(self) -> Option<[f64; 2]> {
        (self.clock_variance >= 0.0 && self.motor_variance >= 0.0)
            .then(|| [self.clock_variance.sqrt(), self.motor_variance.sqrt()])
    }
}

/// Variance and lag-1 autocovariance about the mean, both with divisor n.
///
/// # Errors
/// [`StatsError::TooFew`] below three values.
pub fn covariances(intervals: Sample) -> Result<[f64; 2]> {
    intervals.need(3)?;
    let (y, m, n) = (intervals.values(), raw_mean(intervals.values()), intervals.len() as f64);
    let variance = y.iter().map(|v| (v - m) * (v - m)).sum::<f64>() / n;
    let lag1 = y.windows(2).map(|w| (w[0] - m) * (w[1] - m)).sum::<f64>() / n;
    Ok([variance, lag1])
}

/// The split of a take, with intervals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimingSplit {
    /// The signed variances.
    pub split: Split,
    /// Clock variance with its interval, signed.
    pub clock: Estimate,
    /// Motor variance (detector variance included) with its interval, signed.
    pub motor: Estimate,
    /// Lag-1 autocorrelation g1 / g0; the model allows -0.5 to 0.
    pub lag1_autocorrelation: f64,
    /// Whether both variances are at least 0.
    pub model_holds: bool,
}

/// Splits the intervals of a take. `places[k]` is the place of interval k in the line: place means are taken out first,
/// as a line's own profile is neither clock nor motor noise. `runs[k]` numbers unbroken stretches of playing: intervals
/// of different runs are no neighbours. The covariances are scaled up by (n - 1) / (n - places) for the means removed; with one place
/// and one run they have divisor n. Intervals by Student's t over a jackknife of 20 stretches (Miller 1974,
/// Biometrika 61:1).
///
/// # Errors
/// [`StatsError::TooFew`] below [`LEAST_INTERVALS`] or with fewer than two intervals a place on average;
/// [`StatsError::LengthMismatch`]; [`StatsError::NoSpread`] if all deviations are 0.
pub fn timing_split(intervals: Sample, places: &[usize], runs: &[usize], confidence: f64) -> Result<TimingSplit> {
    same_length(intervals.len(), places.len())?;
    same_length(intervals.len(), runs.len())?;
    check_confidence(confidence)?;
    intervals.need(LEAST_INTERVALS)?;
    let members = members_of(places);
    intervals.need(2 * members.len())?;
    let n = intervals.len();
    let mut deviation = vec![0.0; n];
    for m in &members {
        let mean = raw_mean(&m.iter().map(|&i| intervals.values()[i]).collect::<Vec<_>>());
        for &i in m {
            deviation[i] = intervals.values()[i] - mean;
        }
    }
    let neighbours = |k: usize| k + 1 < n && runs[k] == runs[k + 1];
    let terms: Vec<[f64; 2]> = (0..n)
        .map(|k| {
            let d = deviation[k];
            [d * d, if neighbours(k) { d * deviation[k + 1] } else { 0.0 }]
        })
        .collect();
    let pairs: Vec<bool> = (0..n).map(neighbours).collect();
    let scale = (n - 1) as f64 / (n - members.len()) as f64;
    let split_without = |left_out: std::ops::Range<usize>| {
        let (mut sums, mut kept, mut kept_pairs) = ([0.0; 2], 0usize, 0usize);
        for k in (0..n).filter(|k| !left_out.contains(k)) {
            sums[0] += terms[k][0];
            sums[1] += terms[k][1];
            kept += 1;
            kept_pairs += usize::from(pairs[k]);
        }
        let variance = scale * sums[0] / kept as f64;
        // Divisor n for n - 1 pairs of one run, the same proportion where there are more runs.
        let lag1 = scale * sums[1] / kept_pairs.max(1) as f64 * (n - 1) as f64 / n as f64;
        ([variance, lag1], Split::from_covariances(variance, lag1))
    };
    let ([variance, lag1], split) = split_without(0..0);
    if variance <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let left_out: Vec<Split> =
        (0..STRETCHES).map(|s| split_without(s * n / STRETCHES..(s + 1) * n / STRETCHES).1).collect();
    let estimate = |part: fn(&Split) -> f64| {
        let parts: Vec<f64> = left_out.iter().map(part).collect();
        let b = STRETCHES as f64;
        let se = ((b - 1.0) / b * crate::moments::raw_sum_of_squares(&parts)).sqrt();
        let (value, reach) = (part(&split), t_quantile(0.5 + 0.5 * confidence, b - 1.0) * se);
        Estimate { value, interval: Interval { low: value - reach, high: value + reach }, n }
    };
    Ok(TimingSplit {
        split,
        clock: estimate(|s| s.clock_variance),
        motor: estimate(|s| s.motor_variance),
        lag1_autocorrelation: lag1 / variance,
        model_holds: split.sds().is_some(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Seeded;

    #[test]
    fn worked_example_by_hand() {
        // Deviations from 500: 0 -20 10 -5 20 5 -10 15 0 -15; squares 1500, products -450.
        let y = [500.0, 480.0, 510.0, 495.0, 520.0, 505.0, 490.0, 515.0, 500.0, 485.0];
        let [g0, g1] = covariances(Sample::new(&y).unwrap()).unwrap();
        assert_eq!((g0, g1), (150.0, -45.0));
        let [clock, motor] = Split::from_covariances(g0, g1).sds().unwrap();
        assert!((motor - 6.708).abs() < 5e-4 && (clock - 7.746).abs() < 5e-4);
    }

    #[test]
    fn a_violation_is_said_and_not_cut_off() {
        let y = [520.0, 470.0, 515.0, 480.0, 510.0, 475.0, 525.0, 490.0, 505.0, 510.0];
        let [g0, g1] = covariances(Sample::new(&y).unwrap()).unwrap();
        assert_eq!((g0, g1), (350.0, -267.5));
        let split = Split::from_covariances(g0, g1);
        assert_eq!((split.clock_variance, split.sds()), (-185.0, None));
    }

    /// Intervals with clock SD `clock` and motor SD `motor` about a profile of `places` places, in runs of 110.
    fn play(rng: &mut Seeded, n: usize, clock: f64, motor: f64, places: usize) -> (Vec<f64>, Vec<usize>, Vec<usize>) {
        let mut before = motor * rng.normal();
        let y = (0..n)
            .map(|k| {
                if k % 110 == 0 {
                    before = motor * rng.normal();
                }
                let after = motor * rng.normal();
                let v = 120.0 + (k % places) as f64 * 3.0 + clock * rng.normal() + after - before;
                before = after;
                v
            })
            .collect();
        (y, (0..n).map(|k| k % places).collect(), (0..n).map(|k| k / 110).collect())
    }

    #[test]
    fn the_split_is_unbiased_and_its_intervals_hold() {
        let mut rng = Seeded::new(21);
        let runs = 200;
        let (mut clock, mut motor, mut held) = (0.0, 0.0, 0);
        for _ in 0..runs {
            let (y, places, stretch) = play(&mut rng, 330, 10.0, 5.0, 22);
            let t = timing_split(Sample::new(&y).unwrap(), &places, &stretch, 0.95).unwrap();
            clock += t.clock.value / f64::from(runs);
            motor += t.motor.value / f64::from(runs);
            held += i32::from(t.motor.interval.holds(25.0)) + i32::from(t.clock.interval.holds(100.0));
        }
        assert!((clock - 100.0).abs() < 5.0 && (motor - 25.0).abs() < 3.0, "{clock} {motor}");
        // 95 % of 400, four standard errors below.
        assert!(held >= 362, "{held} of 400");
    }

    #[test]
    fn too_few_intervals_give_no_split() {
        let y = vec![1.0; 199];
        let zeros = vec![0; 199];
        assert_eq!(
            timing_split(Sample::new(&y).unwrap(), &zeros, &zeros, 0.95),
            Err(StatsError::TooFew { needed: 200, got: 199 })
        );
        let y = vec![1.0; 200];
        let zeros = vec![0; 200];
        assert_eq!(timing_split(Sample::new(&y).unwrap(), &zeros, &zeros, 0.95), Err(StatsError::NoSpread));
        let many: Vec<usize> = (0..200).collect();
        assert!(timing_split(Sample::new(&y).unwrap(), &many, &zeros, 0.95).is_err());
    }

    #[test]
    fn jitter_about_a_grid_alone_has_no_clock() {
        // Independent jitter: lag-1 autocorrelation -0.5, clock variance 0 (within its interval).
        let (y, places, stretch) = play(&mut Seeded::new(4), 1100, 0.0, 5.0, 10);
        let t = timing_split(Sample::new(&y).unwrap(), &places, &stretch, 0.95).unwrap();
        assert!(t.clock.interval.holds(0.0) && (t.lag1_autocorrelation + 0.5).abs() < 0.05, "{t:?}");
    }
}
