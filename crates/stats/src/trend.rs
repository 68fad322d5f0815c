//! Trend over days: slope by Theil-Sen, test by Mann-Kendall, both corrected where successive days resemble each other.
//!
//! Times are in any unit (days, weeks); slopes are per that unit. One value a practice day.

use crate::dist::{normal_quantile, normal_two_sided};
use crate::error::{Result, StatsError};
use crate::moments::{lag1_autocorrelation, quantile_of_sorted, raw_sum_of_squares};
use crate::sample::{Estimate, Interval, Sample, check_confidence, same_length};
use slopes::Slopes;

mod slopes;

/// Largest n for which the exact null distribution is used where no values tie; the normal form is as good above.
const LARGEST_EXACT: usize = 40;

/// Pairs grow with the square of n: beyond so many values take medians of stretches first.
const MOST_VALUES: usize = 3000;

/// Mann-Kendall's test for a monotonic trend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Number of rising pairs minus number of falling pairs.
    pub s: f64,
    /// Variance of S where there is no trend, corrected for ties, not for autocorrelation.
    pub variance: f64,
    /// Kendall's tau-a, -1 to 1.
    pub tau: f64,
    /// (S -+ 1) / sqrt(variance), 0 where S is 0.
    pub z: f64,
    /// Two-sided p of `z` by the normal approximation.
    pub p_normal: f64,
    /// Two-sided p from the exact null distribution; `None` where values tie or there are more than 40.
    pub p_exact: Option<f64>,
}

/// Mann (1945), Econometrica 13:245; Kendall (1975), Rank Correlation Methods; variance with ties and continuity
/// correction as in Gilbert (1987), Statistical Methods for Environmental Pollution Monitoring, sect. 16.4. Values in
/// order of time.
///
/// # Errors
/// [`StatsError::TooFew`] below three values, [`StatsError::TooMany`] above 3,000, [`StatsError::NoSpread`] if all are equal.
pub fn mann_kendall(values: Sample) -> Result<MannKendall> {
    values.need(3)?;
    if values.len() > MOST_VALUES {
        return Err(StatsError::TooMany { most: MOST_VALUES, got: values.len() });
    }
    let y = values.values();
    let n = y.len();
    let mut s = 0.0;
    for (i, a) in y.iter().enumerate() {
        s += f64::from(y[i + 1..].iter().map(|b| i32::from(b > a) - i32::from(b < a)).sum::<i32>());
    }
    let term = |k: f64| k * (k - 1.0) * (2.0 * k + 5.0);
    let sorted = values.sorted();
    let ties: Vec<f64> = sorted.chunk_by(|a, b| a == b).map(|c| c.len() as f64).collect();
    let variance = (term(n as f64) - ties.iter().map(|&t| term(t)).sum::<f64>()) / 18.0;
    if variance <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let z = (s - s.signum() * f64::from(u8::from(s != 0.0))) / variance.sqrt();
    let p_exact = (ties.len() == n && n <= LARGEST_EXACT).then(|| (2.0 * upper_tail(n, s.abs())).min(1.0));
    let tau = s / (0.5 * n as f64 * (n as f64 - 1.0));
    Ok(MannKendall { s, variance, tau, z, p_normal: normal_two_sided(z), p_exact })
}

/// P(S >= s) over all orders of n different values, by the recursion for the number of inversions (Kendall 1975,
/// ch. 5): the k-th value adds 0 to k - 1 inversions, each as likely.
fn upper_tail(n: usize, s: f64) -> f64 {
    let pairs = n * (n - 1) / 2;
    let mut chance = vec![0.0; pairs + 1];
    chance[0] = 1.0;
    let mut reach = 0;
    for k in 2..=n {
        let before = chance.clone();
        reach += k - 1;
        let mut window = 0.0f64;
        for (inversions, c) in chance.iter_mut().enumerate().take(reach + 1) {
            window += before[inversions];
            if inversions >= k {
                window -= before[inversions - k];
            }
            *c = window.max(0.0) / k as f64;
        }
    }
    // S = pairs - 2 inversions.
    chance.iter().enumerate().filter(|(i, _)| pairs as f64 - 2.0 * *i as f64 >= s).map(|(_, c)| c).sum()
}

/// A Theil-Sen line with its intervals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TheilSen {
    /// Median of the slopes of all pairs, with Gilbert's interval: interpolated between the sorted slopes at ranks
    /// (N - C)/2 and (N + C)/2 + 1, C = z sqrt(variance of S) (Gilbert 1987, sect. 16.5).
    pub slope: Estimate,
    /// The slope's interval in Sen's form, at whole ranks (Sen 1968, J. Am. Stat. Assoc. 63:1379).
    pub sen_interval: Interval,
    /// Median of the values minus slope times median of the times (Conover 1999, Practical Nonparametric Statistics).
    pub intercept: f64,
    /// Median of value minus slope times time.
    pub median_residual_intercept: f64,
}

/// Slope of values against strictly rising times. `variance_factor` (1 for independent days) widens the intervals.
///
/// # Errors
/// As [`mann_kendall`]; [`StatsError::LengthMismatch`]; [`StatsError::OutOfRange`] for times that
/// do not rise, a factor below 1 or a bad confidence.
pub fn theil_sen(times: Sample, values: Sample, confidence: f64, variance_factor: f64) -> Result<TheilSen> {
    same_length(times.len(), values.len())?;
    check_confidence(confidence)?;
    if !(1.0..1e6).contains(&variance_factor) {
        return Err(StatsError::OutOfRange { what: "variance factor", allowed: "at least 1" });
    }
    check_rising(times)?;
    let test = mann_kendall(values)?;
    let (t, y) = (times.values(), values.values());
    line(&mut Slopes::of(t, y), &test, (t, y), confidence, variance_factor)
}

fn line(
    slopes: &mut Slopes,
    test: &MannKendall,
    (t, y): (&[f64], &[f64]),
    confidence: f64,
    variance_factor: f64,
) -> Result<TheilSen> {
    let (n, slope) = (slopes.len() as f64, slopes.median());
    let reach = normal_quantile(0.5 + 0.5 * confidence) * (test.variance * variance_factor).sqrt();
    // Ranks count from 1, places from 0.
    let (low, high) = (0.5 * (n - reach) - 1.0, 0.5 * (n + reach));
    // Sen's form: the same at whole ranks.
    let (whole_low, whole_high) = ((low + 1.0).round_ties_even() - 1.0, high.round_ties_even());
    // `as` saturates at 0 and the window at the last slope.
    let window = slopes.sorted(low.min(whole_low).floor() as usize..=high.max(whole_high).ceil() as usize);
    let interval = |low: f64, high: f64| Interval { low: window.at(low).min(slope), high: window.at(high).max(slope) };
    let (gilbert, sen_interval) = (interval(low, high), interval(whole_low, whole_high));
    let median = |values: &[f64]| Ok(quantile_of_sorted(&Sample::new(values)?.sorted(), 0.5));
    let residuals: Vec<f64> = t.iter().zip(y).map(|(t, y)| y - slope * t).collect();
    Ok(TheilSen {
        slope: Estimate { value: slope, interval: gilbert, n: y.len() },
        sen_interval,
        intercept: median(y)? - slope * median(t)?,
        median_residual_intercept: median(&residuals)?,
    })
}

fn check_rising(times: Sample) -> Result<()> {
    times.need(3)?;
    let t = times.values();
    let step = 1e-9 * (t[t.len() - 1] - t[0]).abs();
    if t.windows(2).all(|w| w[1] - w[0] > step) {
        Ok(())
    } else {
        Err(StatsError::OutOfRange { what: "list of times", allowed: "rising, with no two equal" })
    }
}

/// A trend, corrected for the likeness of successive days where it shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// The line, its intervals widened by the variance factor.
    pub line: TheilSen,
    /// The test, not corrected.
    pub test: MannKendall,
    /// Two-sided p, exact where it can be, corrected for autocorrelation.
    pub p: f64,
    /// Lag-1 autocorrelation of the values less the line, corrected for its bias in short series.
    pub autocorrelation: f64,
    /// What the variance of S was multiplied by; 1 where no autocorrelation shows.
    pub variance_factor: f64,
    /// SD of the values about the line (n - 2).
    pub residual_sd: f64,
    /// The smallest change over the whole span that these days show with a chance of 80 %:
    /// 2.80 s span / sqrt(0.955 sum (t - mean t)^2), 2.80 = z(0.975) + z(0.80), 0.955 = 3/pi the efficiency of the rank
    /// test (Sen 1968, sect. 6), times the root of the variance factor.
    pub smallest_detectable_change: f64,
}

/// Theil-Sen and Mann-Kendall of values at strictly rising times.
///
/// Likeness of successive days: r1 of the residuals, bias-corrected as (n r1 + 1.5) / (n - 4), counts where it exceeds
/// three quarters of a standard error, 0.75/sqrt(n); then the variance of S is multiplied by
/// 1 + 2 sum (1 - k/n) r1^k, the effective sample size of a first-order autoregression (Yue & Wang 2004, Water Resour.
/// Manag. 18:201, with residuals as Hamed & Rao 1998, J. Hydrol. 204:182). Threshold and correction were chosen by
/// simulation: see the tests, and the example `trend_power` of takegauge-review.
///
/// # Errors
/// As [`theil_sen`]; [`StatsError::TooFew`] below five values.
pub fn trend(times: Sample, values: Sample, confidence: f64) -> Result<Trend> {
    values.need(5)?;
    same_length(times.len(), values.len())?;
    check_confidence(confidence)?;
    check_rising(times)?;
    let test = mann_kendall(values)?;
    let (t, y) = (times.values(), values.values());
    let mut slopes = Slopes::of(t, y);
    let slope = slopes.median();
    let n = values.len() as f64;
    let residuals: Vec<f64> = t.iter().zip(y).map(|(t, y)| y - slope * t).collect();
    let residuals = Sample::new(&residuals)?;
    let residual_sd = (raw_sum_of_squares(residuals.values()) / (n - 2.0)).sqrt();
    let autocorrelation = match lag1_autocorrelation(residuals) {
        Ok(raw) => ((n * raw + 1.5) / (n - 4.0)).clamp(-0.9, 0.9),
        // Values exactly on a line leave nothing to correlate.
        Err(_) => 0.0,
    };
    let shows = autocorrelation > 0.75 / n.sqrt();
    let variance_factor = if shows { effective_factor(autocorrelation, values.len()) } else { 1.0 };
    let line = line(&mut slopes, &test, (t, y), confidence, variance_factor)?;
    let z = test.p_exact.map_or(test.z.abs(), |p| normal_quantile(1.0 - 0.5 * p).max(0.0));
    let p = match test.p_exact {
        Some(exact) if !shows => exact,
        _ => normal_two_sided(z / variance_factor.sqrt()),
    };
    let about_mean = raw_sum_of_squares(t);
    let span = t[t.len() - 1] - t[0];
    let smallest_detectable_change = 2.80 * residual_sd * span / (0.955 * about_mean).sqrt() * variance_factor.sqrt();
    Ok(Trend { line, test, p, autocorrelation, variance_factor, residual_sd, smallest_detectable_change })
}

fn effective_factor(r: f64, n: usize) -> f64 {
    let size = n as f64;
    1.0 + 2.0 * (1..n).map(|k| (1.0 - k as f64 / size) * r.powi(k as i32)).sum::<f64>()
}

/// Whether nothing has changed, as against a mere lack of proof of a change: the whole change over the span lies inside
/// -`margin` to `margin` at the confidence of the line.
pub fn is_steady(trend: &Trend, times: Sample, margin: f64) -> bool {
    let span = times.values().last().copied().unwrap_or(0.0) - times.values()[0];
    let change = trend.line.slope.interval;
    change.low * span > -margin && change.high * span < margin
}

#[cfg(test)]
mod checks;
