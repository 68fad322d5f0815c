//! How far a note's own time is to be trusted before it is held against others like it.

/// A note among those that it is held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Own {
    /// One standard deviation of its own time, ms.
    pub(crate) sd_ms: f64,
}

impl Own {
    /// A note surer than this stays where it is, ms.
    pub(crate) const SURE_MS: f64 = 0.25;
    /// Elsewhere a time is off by so much, ms, one standard deviation; here it is within these.
    const ELSEWHERE_MS: f64 = 6.0;
    pub(crate) const HERE_MS: (f64, f64) = (0.15, 0.3);
    /// The chance that a time is elsewhere is its uncertainty over this, ms: of times in little doubt one in ten is
    /// elsewhere, of those in most doubt still a quarter right.
    const LOST_MS: f64 = 7.0;
    const MOST_DOUBT: f64 = 0.75;
    const DOUBT_IF_SURE: f64 = 5e-4;

    pub(crate) fn sure(&self) -> bool {
        self.sd_ms <= Self::SURE_MS
    }

    /// Chance that its time is elsewhere.
    pub(crate) fn doubt(&self) -> f64 {
        if self.sure() {
            return Self::DOUBT_IF_SURE;
        }
        (self.sd_ms / Self::LOST_MS).min(Self::MOST_DOUBT)
    }

    /// Logarithm of the density of its attack's true place, `off_ms` after its own time.
    pub(crate) fn likely(&self, off_ms: f64) -> f64 {
        let here = self.sd_ms.clamp(Self::HERE_MS.0, Self::HERE_MS.1);
        mixture(off_ms, self.doubt(), here)
    }
}

fn mixture(off_ms: f64, elsewhere: f64, here_ms: f64) -> f64 {
    if off_ms.abs() > 10.0 * here_ms {
        // Here it is not: the one term, without its exponential.
        let scaled = off_ms / Own::ELSEWHERE_MS;
        return elsewhere.ln() - 0.5 * scaled * scaled - (Own::ELSEWHERE_MS * (2.0 * std::f64::consts::PI).sqrt()).ln();
    }
    let normal = |sd: f64| (-0.5 * (off_ms / sd).powi(2)).exp() / (sd * (2.0 * std::f64::consts::PI).sqrt());
    ((1.0 - elsewhere) * normal(here_ms) + elsewhere * normal(Own::ELSEWHERE_MS)).ln()
}

/// What is known of a pair of own times: both are right, or one is not.
pub(crate) fn pair_likely(lag_ms: f64, one: &Own, other: &Own) -> f64 {
    mixture(lag_ms, 1.0 - (1.0 - one.doubt()) * (1.0 - other.doubt()), Own::HERE_MS.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn densities_add_up_to_one() {
        for sd_ms in [0.1, 0.4, 2.0, 5.0, f64::INFINITY] {
            let step = 0.005;
            let sum: f64 = (-8_000..8_000).map(|k| Own { sd_ms }.likely(f64::from(k) * step).exp() * step).sum();
            assert!((sum - 1.0).abs() < 1e-3, "{sd_ms}: {sum}");
        }
    }
}
