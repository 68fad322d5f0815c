//! The bootstrap, seeded: of single values and of whole clusters (repeats of a line), with percentile intervals.
//!
//! Efron & Tibshirani (1993), An Introduction to the Bootstrap, ch. 13 (percentile) and sect. 8.3 (clusters). Values
//! within a repeat share drift and slips, so figures of a take are resampled by repeat where there are several.

use crate::error::{Result, StatsError};
use crate::moments::quantile_of_sorted;
use crate::random::Seeded;
use crate::sample::{Estimate, Interval, Sample, check_confidence};

/// How often and from which seed to resample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// Number of resamples, at least 100; 1,999 for a 95 % interval in a report.
    pub resamples: usize,
    /// Seed of the generator.
    pub seed: u64,
    /// Two-sided confidence, 0.95 for 95 %.
    pub confidence: f64,
}

impl Plan {
    /// 1,999 resamples at 95 %.
    pub fn new(seed: u64) -> Self {
        Self { resamples: 1999, seed, confidence: 0.95 }
    }

    fn check(&self) -> Result<()> {
        check_confidence(self.confidence)?;
        if self.resamples < 100 {
            return Err(StatsError::OutOfRange { what: "number of resamples", allowed: "at least 100" });
        }
        Ok(())
    }
}

/// `statistic` of the values, with the percentile interval over resamples of single values. The interval is stretched
/// to hold the value itself where the bootstrap distribution lies to one side of it.
///
/// # Errors
/// [`StatsError::OutOfRange`] for a bad plan; [`StatsError::TooFew`] if the statistic is undefined (returns `None`) for
/// the values themselves or for more than half of the resamples.
pub fn percentile(sample: Sample, plan: Plan, statistic: impl Fn(&[f64]) -> Option<f64>) -> Result<Estimate> {
    plan.check()?;
    let y = sample.values();
    let value = statistic(y).filter(|v| v.is_finite()).ok_or(StatsError::TooFew { needed: 2, got: y.len() })?;
    let mut rng = Seeded::new(plan.seed);
    let mut drawn = vec![0.0; y.len()];
    let mut found = Vec::with_capacity(plan.resamples);
    for _ in 0..plan.resamples {
        for d in &mut drawn {
            *d = y[rng.index(y.len())];
        }
        found.extend(statistic(&drawn).filter(|v| v.is_finite()));
    }
    conclude(value, found, plan, y.len())
}

/// As [`percentile`], but whole clusters are drawn: `statistic` is given the indices of the values drawn, cluster after
/// cluster, and so can look up as many parallel lists as it needs. `clusters[k]` names the cluster of value k.
///
/// # Errors
/// As [`percentile`]; also [`StatsError::Empty`] for no values and [`StatsError::TooFew`] for fewer than 2 clusters.
pub fn by_cluster(clusters: &[usize], plan: Plan, statistic: impl Fn(&[usize]) -> Option<f64>) -> Result<Estimate> {
    plan.check()?;
    if clusters.is_empty() {
        return Err(StatsError::Empty);
    }
    let members = members_of(clusters);
    if members.len() < 2 {
        return Err(StatsError::TooFew { needed: 2, got: members.len() });
    }
    let n = clusters.len();
    let all: Vec<usize> = (0..n).collect();
    let value = statistic(&all).filter(|v| v.is_finite()).ok_or(StatsError::TooFew { needed: 2, got: n })?;
    let mut rng = Seeded::new(plan.seed);
    let mut drawn = Vec::with_capacity(n);
    let mut found = Vec::with_capacity(plan.resamples);
    for _ in 0..plan.resamples {
        drawn.clear();
        for _ in 0..members.len() {
            drawn.extend_from_slice(&members[rng.index(members.len())]);
        }
        found.extend(statistic(&drawn).filter(|v| v.is_finite()));
    }
    conclude(value, found, plan, n)
}

/// The indices of each cluster, clusters in rising order of their number.
pub(crate) fn members_of(clusters: &[usize]) -> Vec<Vec<usize>> {
    let mut members = std::collections::BTreeMap::<usize, Vec<usize>>::new();
    for (index, &cluster) in clusters.iter().enumerate() {
        members.entry(cluster).or_default().push(index);
    }
    members.into_values().collect()
}

fn conclude(value: f64, mut found: Vec<f64>, plan: Plan, n: usize) -> Result<Estimate> {
    if found.len() * 2 < plan.resamples {
        return Err(StatsError::TooFew { needed: 2, got: n });
    }
    found.sort_by(f64::total_cmp);
    let tail = 0.5 - 0.5 * plan.confidence;
    let (low, high) = (quantile_of_sorted(&found, tail), quantile_of_sorted(&found, 1.0 - tail));
    Ok(Estimate { value, interval: Interval { low: low.min(value), high: high.max(value) }, n })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moments::{mean, standard_deviation};

    fn sd(y: &[f64]) -> Option<f64> {
        standard_deviation(Sample::new(y).ok()?).ok()
    }

    #[test]
    fn the_interval_of_a_mean_is_as_wide_as_theory_says() {
        let mut rng = Seeded::new(11);
        let y: Vec<f64> = (0..200).map(|_| 10.0 + 4.0 * rng.normal()).collect();
        let s = Sample::new(&y).unwrap();
        let e = percentile(s, Plan::new(1), |v| Some(mean(Sample::new(v).ok()?))).unwrap();
        let width = e.interval.high - e.interval.low;
        let theory = 2.0 * 1.96 * sd(&y).unwrap() / 200f64.sqrt();
        assert!((width / theory - 1.0).abs() < 0.08, "{width} against {theory}");
        assert_eq!(e, percentile(s, Plan::new(1), |v| Some(mean(Sample::new(v).ok()?))).unwrap());
    }

    #[test]
    fn coverage_of_the_sd_is_near_its_level() {
        let mut rng = Seeded::new(5);
        let plan = Plan { resamples: 299, seed: 2, confidence: 0.95 };
        let held = (0..200)
            .filter(|_| {
                let y: Vec<f64> = (0..60).map(|_| rng.normal()).collect();
                percentile(Sample::new(&y).unwrap(), plan, sd).unwrap().interval.holds(1.0)
            })
            .count();
        // The percentile interval of an SD is a little short: 92 to 93 % at n = 60; 4 standard errors either way.
        assert!((172..=198).contains(&held), "{held} of 200");
    }

    #[test]
    fn clusters_are_drawn_whole() {
        let clusters = [3, 3, 7, 7, 7];
        let e = by_cluster(&clusters, Plan::new(4), |i| Some(i.len() as f64)).unwrap();
        assert_eq!((e.value, e.interval.low, e.interval.high), (5.0, 4.0, 6.0));
        assert!(by_cluster(&[1, 1], Plan::new(4), |_| Some(0.0)).is_err());
        assert!(by_cluster(&clusters, Plan { resamples: 5, ..Plan::new(0) }, |_| Some(0.0)).is_err());
    }

    #[test]
    fn a_statistic_that_is_mostly_undefined_gives_no_interval() {
        let y = [1.0, 2.0, 3.0];
        let s = Sample::new(&y).unwrap();
        assert!(percentile(s, Plan::new(4), |v| if v == y { Some(1.0) } else { None }).is_err());
        assert!(percentile(s, Plan::new(4), |_| Some(f64::NAN)).is_err());
    }
}
