//! The joint fit of all groups found: means by weighted least squares, log SD by Fisher scoring, in turns.

use super::Candidates;
use crate::error::{Result, StatsError};
use crate::linear::least_squares;
use crate::moments::raw_sum_of_squares;
use crate::robust::trimmed_mean;
use crate::sample::{Sample, same_length};

/// A group's spread is shrunk to the baseline's as if that had been seen on so many more notes: three notes that
/// happen to lie close together must not be given all the weight.
const PRIOR: f64 = 4.0;

const MOST_TURNS: usize = 60;

/// A found group and what of it is in the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Effect {
    pub(crate) set: usize,
    pub(crate) mean: bool,
    pub(crate) spread: bool,
}

/// Means and SDs of all notes under the groups found.
#[derive(Debug, Clone)]
pub(crate) struct JointFit {
    effects: Vec<Effect>,
    /// Baseline mean, then one shift for each effect with `mean`.
    means: Vec<f64>,
    /// Log of the baseline SD, then one log ratio for each effect with `spread`.
    log_sds: Vec<f64>,
    pub(crate) fitted_mean: Vec<f64>,
    pub(crate) fitted_sd: Vec<f64>,
    log_likelihood: f64,
}

impl JointFit {
    pub(crate) fn new(values: &[f64], effects: &[Effect], candidates: &Candidates) -> Result<Self> {
        let n = values.len();
        let columns = |wanted: fn(&Effect) -> bool| {
            let mut columns = vec![vec![1.0; n]];
            columns.extend(effects.iter().filter(|e| wanted(e)).map(|e| candidates.indicator(e.set)));
            columns
        };
        let (mean_columns, sd_columns) = (columns(|e| e.mean), columns(|e| e.spread));
        let overall = (raw_sum_of_squares(values) / n as f64).sqrt();
        if overall <= 0.0 {
            return Err(StatsError::NoSpread);
        }
        let mut log_sds = vec![0.0; sd_columns.len()];
        log_sds[0] = overall.ln();
        // No note's SD falls below a thousandth of the whole: beyond that the weights would be meaningless.
        let least = overall.ln() - 1000f64.ln();
        let mut means = vec![0.0; mean_columns.len()];
        let sample = Sample::new(values)?;
        for _ in 0..MOST_TURNS {
            let sds = combine(&sd_columns, &log_sds, n, least);
            let weights: Vec<f64> = sds.iter().map(|s| (overall / s.exp()).powi(2)).collect();
            means = least_squares(&mean_columns, sample, Sample::new(&weights)?)?.coefficients;
            let residuals: Vec<f64> =
                combine(&mean_columns, &means, n, f64::NEG_INFINITY).iter().zip(values).map(|(m, v)| v - m).collect();
            let moved = score_step(&sd_columns, &residuals, &mut log_sds, least)?;
            if moved < 1e-9 {
                break;
            }
        }
        let fitted_mean = combine(&mean_columns, &means, n, f64::NEG_INFINITY);
        let log_sd = combine(&sd_columns, &log_sds, n, least);
        let fitted_sd: Vec<f64> = log_sd.iter().map(|s| s.exp()).collect();
        let log_likelihood = values
            .iter()
            .zip(&fitted_mean)
            .zip(&log_sd)
            .map(|((v, m), s)| -s - 0.5 * ((v - m) / s.exp()).powi(2))
            .sum();
        Ok(Self { effects: effects.to_vec(), means, log_sds, fitted_mean, fitted_sd, log_likelihood })
    }

    pub(crate) fn standardised(&self, values: &[f64]) -> Vec<f64> {
        values.iter().zip(&self.fitted_mean).zip(&self.fitted_sd).map(|((v, m), s)| (v - m) / s).collect()
    }

    pub(crate) fn baseline_mean(&self) -> f64 {
        self.means[0]
    }

    pub(crate) fn baseline_sd(&self) -> f64 {
        self.log_sds[0].exp()
    }

    /// Mean shift and SD ratio of a set, as far as they are in the fit.
    pub(crate) fn of(&self, set: usize) -> (Option<f64>, Option<f64>) {
        let (mut mean, mut spread) = (None, None);
        let (mut m, mut s) = (1, 1);
        for e in &self.effects {
            if e.mean {
                if e.set == set {
                    mean = Some(self.means[m]);
                }
                m += 1;
            }
            if e.spread {
                if e.set == set {
                    spread = Some(self.log_sds[s].exp());
                }
                s += 1;
            }
        }
        (mean, spread)
    }

    /// The term (index of effect, whether its mean) with the smallest likelihood ratio given all others.
    pub(crate) fn weakest_term(&self, values: &[f64], candidates: &Candidates) -> Result<Option<(usize, bool, f64)>> {
        let mut weakest: Option<(usize, bool, f64)> = None;
        for (index, effect) in self.effects.iter().enumerate() {
            for is_mean in [true, false] {
                if !(if is_mean { effect.mean } else { effect.spread }) {
                    continue;
                }
                let mut less = self.effects.clone();
                if is_mean {
                    less[index].mean = false
                } else {
                    less[index].spread = false
                }
                let ratio = 2.0 * (self.log_likelihood - Self::new(values, &less, candidates)?.log_likelihood);
                if weakest.is_none_or(|(_, _, w)| ratio < w) {
                    weakest = Some((index, is_mean, ratio));
                }
            }
        }
        Ok(weakest)
    }
}

/// Sum of columns times coefficients, not below `least`.
fn combine(columns: &[Vec<f64>], coefficients: &[f64], n: usize, least: f64) -> Vec<f64> {
    let mut total = vec![0.0; n];
    for (column, c) in columns.iter().zip(coefficients) {
        for (t, x) in total.iter_mut().zip(column) {
            *t += c * x;
        }
    }
    for t in &mut total {
        *t = t.max(least);
    }
    total
}

/// One step of Fisher scoring for log SD linear in the columns: each squared residual over its variance, less 1, is
/// regressed on the columns and half of it added (Harvey 1976, Econometrica 44:461). The prior enters as rows that
/// show a group with the baseline's variance. Gives back the largest move.
fn score_step(columns: &[Vec<f64>], residuals: &[f64], log_sds: &mut [f64], least: f64) -> Result<f64> {
    let n = residuals.len();
    let log_sd = combine(columns, log_sds, n, least);
    let mut target: Vec<f64> =
        residuals.iter().zip(&log_sd).map(|(r, s)| ((r / s.exp()).powi(2)).min(1e12) - 1.0).collect();
    let mut rows = columns.to_vec();
    let mut weights = vec![1.0; n];
    for (group, log_ratio) in log_sds.iter().enumerate().skip(1) {
        target.push((-2.0 * log_ratio).exp().min(1e12) - 1.0);
        weights.push(PRIOR);
        for (k, column) in rows.iter_mut().enumerate() {
            column.push(f64::from(u8::from(k == group)));
        }
    }
    let step = least_squares(&rows, Sample::new(&target)?, Sample::new(&weights)?)?.coefficients;
    let mut largest = 0.0f64;
    for (value, s) in log_sds.iter_mut().zip(step) {
        // Half a step of e per turn keeps the first turns from overshooting.
        let half = (0.5 * s).clamp(-0.5, 0.5);
        *value = (*value + half).max(least);
        largest = largest.max(half.abs());
    }
    Ok(largest)
}

/// Effects of several, possibly overlapping groups at once, by 20 % trimmed means: each effect is the trimmed mean of
/// its notes less the baseline and all other effects, in turns until nothing moves (backfitting: Buja, Hastie &
/// Tibshirani 1989, Ann. Stat. 17:453). The baseline is the trimmed mean of the notes in no group. `groups[k]` has bit
/// g set if note k is in group g. Gives one effect a group, `None` if a group or the baseline holds fewer than two
/// notes.
///
/// # Errors
/// [`StatsError::LengthMismatch`]; [`StatsError::OutOfRange`] for more than 8 groups.
pub fn joint_effects(values: Sample, groups: &[u8], count: usize) -> Result<Option<Vec<f64>>> {
    same_length(values.len(), groups.len())?;
    if count > 8 {
        return Err(StatsError::OutOfRange { what: "number of groups", allowed: "at most 8" });
    }
    let y = values.values();
    let trimmed = |v: &[f64]| Sample::at_least(v, 2).and_then(|s| trimmed_mean(s, 0.2)).ok().map(|t| t.value);
    let used = (0..count).fold(0u8, |mask, g| mask | (1 << g));
    let free: Vec<f64> = y.iter().zip(groups).filter(|(_, g)| **g & used == 0).map(|(v, _)| *v).collect();
    let Some(baseline) = trimmed(&free) else { return Ok(None) };
    let mut effects = vec![0.0; count];
    for _ in 0..200 {
        let mut moved = 0.0f64;
        for g in 0..count {
            let others = |mask: u8| -> f64 {
                effects.iter().enumerate().filter(|(h, _)| *h != g && mask & (1 << *h) != 0).map(|(_, e)| e).sum()
            };
            let left: Vec<f64> = y
                .iter()
                .zip(groups)
                .filter(|(_, m)| **m & (1 << g) != 0)
                .map(|(v, m)| v - baseline - others(*m))
                .collect();
            let Some(effect) = trimmed(&left) else { return Ok(None) };
            moved = moved.max((effect - effects[g]).abs());
            effects[g] = effect;
        }
        if moved <= 1e-9 * (1.0 + baseline.abs()) {
            break;
        }
    }
    Ok(Some(effects))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Seeded;

    #[test]
    fn means_and_spreads_of_two_overlapping_groups_come_back() {
        let mut rng = Seeded::new(17);
        let n = 4000;
        let groups = [(0..n).filter(|k| k % 2 == 0).collect::<Vec<_>>(), (0..n).filter(|k| k % 3 == 0).collect()];
        let candidates = Candidates::new(n, &groups).unwrap();
        let values: Vec<f64> = (0..n)
            .map(|k| {
                let sd = if k % 3 == 0 { 8.0 } else { 4.0 };
                1.0 + if k % 2 == 0 { 5.0 } else { 0.0 } + sd * rng.normal()
            })
            .collect();
        let effects = [Effect { set: 0, mean: true, spread: false }, Effect { set: 1, mean: false, spread: true }];
        let fit = JointFit::new(&values, &effects, &candidates).unwrap();
        let (shift, _) = fit.of(0);
        let (_, ratio) = fit.of(1);
        assert!((shift.unwrap() - 5.0).abs() < 0.6 && (ratio.unwrap() - 2.0).abs() < 0.12, "{shift:?} {ratio:?}");
        assert!((fit.baseline_sd() - 4.0).abs() < 0.25 && (fit.baseline_mean() - 1.0).abs() < 0.5);
        assert_eq!(fit.of(1).0, None);
        let weakest = fit.weakest_term(&values, &candidates).unwrap().unwrap();
        assert!(weakest.2 > 100.0);
    }

    #[test]
    fn three_notes_that_coincide_do_not_run_away() {
        let mut values: Vec<f64> = (0..30).map(|k| f64::from(k % 7) - 3.0).collect();
        values[0] = 5.0;
        values[1] = 5.0;
        values[2] = 5.0;
        let candidates = Candidates::new(30, &[vec![0, 1, 2]]).unwrap();
        let fit = JointFit::new(&values, &[Effect { set: 0, mean: true, spread: true }], &candidates).unwrap();
        let (shift, ratio) = fit.of(0);
        assert!((shift.unwrap() - 5.0).abs() < 0.5 && ratio.unwrap() > 0.5, "{shift:?} {ratio:?}");
    }

    #[test]
    fn effects_of_overlapping_groups_are_told_apart_in_spite_of_slips() {
        let mut rng = Seeded::new(3);
        let n = 600;
        let masks: Vec<u8> = (0..n).map(|k| u8::from(k % 2 == 0) | u8::from(k % 5 == 0) << 1).collect();
        let values: Vec<f64> = masks
            .iter()
            .enumerate()
            .map(|(k, m)| {
                let slip = if k % 31 == 0 { 300.0 } else { 0.0 };
                2.0 + 6.0 * f64::from(m & 1) - 4.0 * f64::from(m >> 1) + rng.normal() + slip
            })
            .collect();
        let e = joint_effects(Sample::new(&values).unwrap(), &masks, 2).unwrap().unwrap();
        assert!((e[0] - 6.0).abs() < 0.4 && (e[1] + 4.0).abs() < 0.4, "{e:?}");
        assert_eq!(joint_effects(Sample::new(&[1.0, 2.0]).unwrap(), &[1, 1], 1), Ok(None));
    }
}
