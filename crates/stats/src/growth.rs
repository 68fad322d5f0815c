//! Spread that grows along the take: SD linear in time, by maximum likelihood.
//!
//! Comparing halves or quarters understates the growth, as each mixes early and late; here SD(t) runs straight from a
//! start to an end value (Harvey 1976, Econometrica 44:461, for likelihoods with modelled variance) and the interval of
//! the ratio end over start is where twice the profile log likelihood stays within the chi-square point of its top
//! (Venzon & Moolgavkar 1988, Appl. Stat. 37:87).

use crate::dist::normal_quantile;
use crate::error::{Result, StatsError};
use crate::sample::{Estimate, Interval, Sample, check_confidence, same_length};

/// The ratio is sought between 1/50 and 50.
const LARGEST_RATIO: f64 = 50.0;

/// How the spread of a take grows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Growth {
    /// SD at the first time.
    pub start: f64,
    /// SD at the last time.
    pub end: f64,
    /// End over start, with its profile-likelihood interval; ends at 1/50 or 50 mean "beyond".
    pub ratio: Estimate,
    /// Twice the log likelihood ratio against an unchanging SD.
    pub likelihood_ratio: f64,
}

/// Fits SD linear in time to residuals about 0 (bias, drift and profile taken off). `mean_terms` is how many means were
/// fitted to get them (places of the line, for example); the likelihood is tempered by (n - mean_terms)/n for it. Residuals
/// should be winsorised: one slip late in the take would pass for growth.
///
/// # Errors
/// [`StatsError::LengthMismatch`]; [`StatsError::TooFew`] below 8 residuals more than `mean_terms`; [`StatsError::NoSpread`] if
/// all are 0 or all times equal; [`StatsError::OutOfRange`] for a bad confidence.
pub fn spread_growth(times: Sample, residuals: Sample, mean_terms: usize, confidence: f64) -> Result<Growth> {
    same_length(times.len(), residuals.len())?;
    check_confidence(confidence)?;
    residuals.need(mean_terms + 8)?;
    let (first, last) = times.values().iter().fold((f64::MAX, f64::MIN), |(a, b), t| (a.min(*t), b.max(*t)));
    let energy: f64 = residuals.values().iter().map(|r| r * r).sum();
    if last - first <= 0.0 || energy <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let place: Vec<f64> = times.values().iter().map(|t| (t - first) / (last - first)).collect();
    let squares: Vec<f64> = residuals.values().iter().map(|r| r * r).collect();
    let n = squares.len() as f64;
    let temper = (n - mean_terms as f64) / n;
    let profile = |log_ratio: f64| temper * profile_likelihood(&place, &squares, log_ratio);
    let bound = LARGEST_RATIO.ln();
    let best = maximise(profile, -bound, bound);
    let top = profile(best);
    let drop = 0.5 * normal_quantile(0.5 + 0.5 * confidence).powi(2);
    let crossing = |far: f64| boundary(|x| top - profile(x) - drop, best, far);
    let interval = Interval { low: crossing(-bound).exp(), high: crossing(bound).exp() };
    let ratio = best.exp();
    let shape = |p: f64| 1.0 + (ratio - 1.0) * p;
    let start = (place.iter().zip(&squares).map(|(p, s)| s / shape(*p).powi(2)).sum::<f64>() / (n * temper)).sqrt();
    Ok(Growth {
        start,
        end: start * ratio,
        ratio: Estimate { value: ratio, interval, n: squares.len() },
        likelihood_ratio: 2.0 * (top - profile(0.0)).max(0.0),
    })
}

/// Log likelihood of an end/start ratio with the start SD at its best, up to a constant.
fn profile_likelihood(place: &[f64], squares: &[f64], log_ratio: f64) -> f64 {
    let slope = log_ratio.exp() - 1.0;
    let n = place.len() as f64;
    let (mut scaled, mut logs) = (0.0, 0.0);
    for (p, s) in place.iter().zip(squares) {
        let shape = 1.0 + slope * p;
        scaled += s / (shape * shape);
        logs += shape.ln();
    }
    -0.5 * n * (scaled / n).max(f64::MIN_POSITIVE).ln() - logs
}

/// The place of the maximum in [low, high]: a grid of 64, then golden section about its best.
pub(crate) fn maximise(f: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let at = |k: usize| low + (high - low) * k as f64 / 64.0;
    let best = (0..=64).map(|k| (k, f(at(k)))).fold((0, f64::MIN), |a, b| if b.1 > a.1 { b } else { a }).0;
    let (mut a, mut b) = (at(best.saturating_sub(1)), at((best + 1).min(64)));
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    for _ in 0..60 {
        let (c, d) = (b - golden * (b - a), a + golden * (b - a));
        if f(c) >= f(d) { b = d } else { a = c }
    }
    0.5 * (a + b)
}

/// Where `excess` (below 0 at `from`) first reaches 0 on the way to `far`; `far` if it does not.
pub(crate) fn boundary(excess: impl Fn(f64) -> f64, from: f64, far: f64) -> f64 {
    let mut inside = from;
    let step = (far - from) / 64.0;
    for k in 1..=64 {
        let mut outside = from + step * f64::from(k);
        if excess(outside) > 0.0 {
            for _ in 0..50 {
                let middle = 0.5 * (inside + outside);
                if excess(middle) > 0.0 { outside = middle } else { inside = middle }
            }
            return inside;
        }
        inside = outside;
    }
    far
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Seeded;
    use proptest::prelude::*;

    fn take(rng: &mut Seeded, n: usize, ratio: f64) -> (Vec<f64>, Vec<f64>) {
        (0..n)
            .map(|k| {
                let t = k as f64 / (n - 1) as f64;
                (60.0 * t, 3.0 * (1.0 + (ratio - 1.0) * t) * rng.normal())
            })
            .unzip()
    }

    fn grow(t: &[f64], r: &[f64]) -> Growth {
        spread_growth(Sample::new(t).unwrap(), Sample::new(r).unwrap(), 0, 0.95).unwrap()
    }

    #[test]
    fn fourfold_growth_is_found_and_its_interval_holds_as_often_as_it_should() {
        let mut rng = Seeded::new(31);
        let (mut held, mut sum, mut width) = (0, 0.0, 0.0);
        for _ in 0..200 {
            let (t, r) = take(&mut rng, 320, 4.0);
            let g = grow(&t, &r);
            held += u32::from(g.ratio.interval.holds(4.0));
            sum += g.ratio.value.ln() / 200.0;
            width += (g.ratio.interval.high / g.ratio.interval.low).ln() / 200.0;
        }
        // 190 of 200 less four standard errors; log ratio within four standard errors of ln 4.
        assert!(held >= 178, "{held}");
        assert!((sum.exp() / 4.0 - 1.0).abs() < 0.08 && width.exp() < 2.4, "{} {}", sum.exp(), width.exp());
    }

    #[test]
    fn unchanging_spread_has_a_ratio_of_1_within_its_interval() {
        let mut rng = Seeded::new(2);
        let held = (0..200).filter(|_| {
            let (t, r) = take(&mut rng, 150, 1.0);
            grow(&t, &r).ratio.interval.holds(1.0)
        });
        assert!(held.count() >= 178);
    }

    #[test]
    fn what_has_no_spread_or_length_is_an_error() {
        let s = |v: &'static [f64]| Sample::new(v).unwrap();
        assert!(spread_growth(s(&[1.0; 9]), s(&[1.0; 9]), 0, 0.95).is_err());
        assert!(spread_growth(s(&[0.0, 1.0]), s(&[1.0; 2]), 0, 0.95).is_err());
        let t: Vec<f64> = (0..9).map(f64::from).collect();
        assert_eq!(spread_growth(Sample::new(&t).unwrap(), s(&[0.0; 9]), 0, 0.95), Err(StatsError::NoSpread));
        assert!(spread_growth(Sample::new(&t).unwrap(), s(&[1.0; 9]), 4, 0.95).is_err());
    }

    proptest! {
        #[test]
        fn the_ratio_lies_in_its_interval(r in prop::collection::vec(-1e3f64..1e3, 8..60)) {
            let t: Vec<f64> = (0..r.len()).map(|k| k as f64).collect();
            let g = grow(&t, &r);
            prop_assert!(g.ratio.interval.low <= g.ratio.value * 1.0001 && g.ratio.value <= g.ratio.interval.high * 1.0001);
            prop_assert!(g.start.is_finite() && g.end.is_finite() && g.likelihood_ratio >= 0.0);
        }
    }
}
