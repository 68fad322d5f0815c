//! Tails and quantiles of the standard distributions, through statrs, with arguments bounded so that nothing panics.

use statrs::distribution::{Beta, ChiSquared, ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// P(Z > z) for a standard normal Z.
pub(crate) fn normal_upper(z: f64) -> f64 {
    Normal::standard().sf(z)
}

/// The z below which a standard normal lies with probability p, 0 < p < 1.
pub(crate) fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p.clamp(1e-300, 1.0 - 1e-16))
}

/// Two-sided standard normal tail.
pub(crate) fn normal_two_sided(z: f64) -> f64 {
    (2.0 * normal_upper(z.abs())).min(1.0)
}

/// P(T > t) for Student's t with `df` > 0 degrees of freedom.
pub(crate) fn t_upper(t: f64, df: f64) -> f64 {
    match StudentsT::new(0.0, 1.0, df) {
        Ok(d) => d.sf(t),
        Err(_) => normal_upper(t),
    }
}

/// Two-sided tail of Student's t.
pub(crate) fn t_two_sided(t: f64, df: f64) -> f64 {
    (2.0 * t_upper(t.abs(), df)).min(1.0)
}

/// Quantile of Student's t.
pub(crate) fn t_quantile(p: f64, df: f64) -> f64 {
    match StudentsT::new(0.0, 1.0, df) {
        Ok(d) => d.inverse_cdf(p),
        Err(_) => normal_quantile(p),
    }
}

/// Quantile of chi-square.
pub(crate) fn chi_square_quantile(p: f64, df: f64) -> f64 {
    ChiSquared::new(df).map_or(df, |d| d.inverse_cdf(p))
}

/// P(X > x) for Snedecor's F.
pub(crate) fn f_upper(x: f64, df1: f64, df2: f64) -> f64 {
    FisherSnedecor::new(df1, df2).map_or(1.0, |d| d.sf(x.max(0.0)))
}

/// Quantile of Snedecor's F.
pub(crate) fn f_quantile(p: f64, df1: f64, df2: f64) -> f64 {
    FisherSnedecor::new(df1, df2).map_or(1.0, |d| d.inverse_cdf(p))
}

/// Quantile of the beta distribution, by bisection on the distribution function to the last bit.
pub(crate) fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    let Ok(d) = Beta::new(a, b) else { return p };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if d.cdf(middle) < p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Mean of ln(X / df) for X chi-square with `df` > 0 degrees of freedom: digamma(df/2) - ln(df/2).
pub(crate) fn log_chi_square_mean(df: f64) -> f64 {
    statrs::function::gamma::digamma(0.5 * df) - (0.5 * df).ln()
}

/// Variance of ln(X): trigamma(df/2), by recurrence and its asymptotic series (Abramowitz and Stegun 1964, 6.4.6, 6.4.12).
pub(crate) fn log_chi_square_variance(df: f64) -> f64 {
    let (mut x, mut sum) = (0.5 * df.max(1e-3), 0.0);
    while x < 6.0 {
        sum += 1.0 / (x * x);
        x += 1.0;
    }
    let y = 1.0 / (x * x);
    sum + 1.0 / x + 0.5 * y + (1.0 / 6.0 - y * (1.0 / 30.0 - y / 42.0)) * y / x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_and_tails_undo_each_other_from_few_to_very_many_degrees_of_freedom() {
        // Beyond some thousands of degrees of freedom the incomplete beta function itself has only 7 digits.
        for (df, tolerance) in [(1.0, 1e-9), (2.5, 1e-9), (7.0, 1e-9), (120.0, 1e-9), (5e4, 1e-6), (1e6, 1e-5)] {
            for p in [0.001, 0.025, 0.4, 0.975, 0.999] {
                let back = 1.0 - t_upper(t_quantile(p, df), df);
                assert!((back - p).abs() < tolerance, "t {df} {p}: {back}");
                let x = chi_square_quantile(p, df);
                let back = ChiSquared::new(df).unwrap().cdf(x);
                assert!((back - p).abs() < tolerance, "chi-square {df} {p}: {back}");
                let back = 1.0 - f_upper(f_quantile(p, df, 9.0), df, 9.0);
                assert!((back - p).abs() < tolerance, "F {df} {p}: {back}");
            }
        }
        assert!((normal_quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-12);
        assert!(normal_quantile(0.0).is_finite() && normal_quantile(1.0).is_finite());
    }

    /// Abramowitz and Stegun 1964, 6.3.2 and 6.4.2 to 6.4.4: psi(1) = -gamma, psi'(1) = pi^2/6, psi'(1/2) = pi^2/2.
    #[test]
    fn moments_of_log_chi_square() {
        let pi2 = std::f64::consts::PI.powi(2);
        assert!((log_chi_square_mean(2.0) + 0.577_215_664_901_532_9).abs() < 1e-12);
        assert!((log_chi_square_variance(2.0) - pi2 / 6.0).abs() < 1e-7);
        assert!((log_chi_square_variance(1.0) - pi2 / 2.0).abs() < 1e-7);
    }
}
