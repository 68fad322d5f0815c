//! Circular statistics: where in the beat notes fall and how closely they gather. Angles are in radians.

use crate::error::{Result, StatsError};
use crate::sample::Sample;

/// Summary of angles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circular {
    /// Mean direction in -pi to pi; `None` where the directions cancel out.
    pub mean_direction: Option<f64>,
    /// Mean resultant length, 0 (spread all round) to 1 (all equal).
    pub resultant_length: f64,
    /// Angular deviation sqrt(2 (1 - r)), 0 to sqrt 2 (Zar 2010, Biostatistical Analysis, 5th ed., sect. 26.5).
    pub angular_deviation: f64,
    /// Circular SD sqrt(-2 ln r) (Mardia 1972, Statistics of Directional Data, sect. 2.3); `None` where r is 0.
    pub circular_sd: Option<f64>,
    /// Rayleigh's z = n r^2.
    pub rayleigh_z: f64,
    /// P of Rayleigh's test in Zar's approximation, exp(sqrt(1 + 4n + 4(n^2 - R^2)) - (1 + 2n)) with R = n r (Zar
    /// 2010, eq. 27.4). Others differ by some per cent: the Wilkie expansion gives 0.00164 where this gives 0.00185.
    pub rayleigh_p: f64,
    /// Number of angles.
    pub n: usize,
}

/// Summarises angles in radians.
pub fn circular(angles: Sample) -> Circular {
    let n = angles.len() as f64;
    let (s, c) = angles.values().iter().fold((0.0, 0.0), |(s, c), a| (s + a.sin(), c + a.cos()));
    let total = s.hypot(c);
    // What is left of directions that cancel is rounding: about n times the last bit.
    let total = if total < 4.0 * n * f64::EPSILON { 0.0 } else { total.min(n) };
    let r = total / n;
    let exponent = (1.0 + 4.0 * n + 4.0 * (n * n - total * total)).sqrt() - (1.0 + 2.0 * n);
    Circular {
        mean_direction: (total > 0.0).then(|| s.atan2(c)),
        resultant_length: r,
        angular_deviation: (2.0 * (1.0 - r)).max(0.0).sqrt(),
        circular_sd: (r > 0.0).then(|| (-2.0 * r.ln()).max(0.0).sqrt()),
        rayleigh_z: n * r * r,
        rayleigh_p: exponent.exp().clamp(0.0, 1.0),
        n: angles.len(),
    }
}

/// Deviations as angles of a cycle of length `period` (same unit).
///
/// # Errors
/// [`StatsError::OutOfRange`] unless `period` is above 0.
pub fn phases(deviations: Sample, period: f64) -> Result<Vec<f64>> {
    if !(period > 1e-60 && period.is_finite()) {
        return Err(StatsError::OutOfRange { what: "period", allowed: "above 0" });
    }
    Ok(deviations.values().iter().map(|d| std::f64::consts::TAU * (d % period) / period).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn zar_leaning_trees() {
        // Zar, Biostatistical Analysis, ch. 26 and 27: leans of 8 trees.
        let degrees = [45.0f64, 55.0, 81.0, 96.0, 110.0, 117.0, 132.0, 154.0];
        let angles: Vec<f64> = degrees.iter().map(|d| d.to_radians()).collect();
        let c = circular(Sample::new(&angles).unwrap());
        assert!((c.mean_direction.unwrap().to_degrees() - 98.99).abs() < 0.05);
        assert!((c.resultant_length - 0.82522).abs() < 5e-6);
        assert!((c.rayleigh_z - 5.4479).abs() < 5e-5);
        assert!((c.rayleigh_p - 0.0018516).abs() < 5e-8);
        assert!((c.angular_deviation.to_degrees() - 33.876).abs() < 5e-4);
        assert!((c.circular_sd.unwrap().to_degrees() - 35.515).abs() < 5e-4);
    }

    #[test]
    #[expect(clippy::approx_constant, reason = "the example gives its angles to three places")]
    fn pingouin_documentation_example() {
        // pingouin.circ_rayleigh, documentation example: z 1.236, p 0.3048435876500138.
        let c = circular(Sample::new(&[0.785, 1.570, 3.141, 0.839, 5.934]).unwrap());
        assert!((c.rayleigh_z - 1.236).abs() < 5e-4 && (c.rayleigh_p - 0.3048435876500138).abs() < 1e-12);
    }

    #[test]
    fn opposite_directions_have_no_mean() {
        let c = circular(Sample::new(&[0.0, std::f64::consts::PI]).unwrap());
        assert_eq!((c.mean_direction, c.resultant_length, c.circular_sd), (None, 0.0, None));
    }

    #[test]
    fn normal_jitter_has_the_resultant_that_theory_gives() {
        // R = exp(-(2 pi s / T)^2 / 2): SD 10 at a period of 125 gives 0.8813.
        let mut rng = crate::Seeded::new(6);
        let d: Vec<f64> = (0..20_000).map(|_| 10.0 * rng.normal()).collect();
        let angles = phases(Sample::new(&d).unwrap(), 125.0).unwrap();
        let r = circular(Sample::new(&angles).unwrap()).resultant_length;
        assert!((r - 0.8813).abs() < 0.004, "{r}");
        assert!(phases(Sample::new(&d).unwrap(), 0.0).is_err());
    }

    proptest! {
        #[test]
        fn nothing_is_out_of_range(a in prop::collection::vec(-1e3f64..1e3, 1..40)) {
            let c = circular(Sample::new(&a).unwrap());
            prop_assert!((0.0..=1.0).contains(&c.resultant_length) && (0.0..=1.0).contains(&c.rayleigh_p));
            prop_assert!(c.circular_sd.is_none_or(f64::is_finite) && c.rayleigh_z.is_finite());
        }
    }
}
