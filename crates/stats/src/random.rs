//! The one source of chance: ChaCha with 8 rounds from a 64-bit seed, the same on every machine.

use rand::{RngExt, SeedableRng, seq::SliceRandom};
use rand_chacha::ChaCha8Rng;

/// A seeded generator; two with the same seed and stream give the same numbers for ever.
#[derive(Debug, Clone)]
pub struct Seeded(ChaCha8Rng);

impl Seeded {
    /// A generator for `seed`.
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// An independent stream of the same seed, so that two procedures do not share numbers.
    pub fn stream(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self(rng)
    }

    /// A whole number in 0..`below`; 0 where `below` is 0.
    pub fn index(&mut self, below: usize) -> usize {
        if below == 0 { 0 } else { self.0.random_range(0..below) }
    }

    /// A number in [0, 1).
    pub fn unit(&mut self) -> f64 {
        self.0.random()
    }

    /// A standard normal deviate (Box & Muller 1958, Ann. Math. Statist. 29:610).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// Shuffles in place, each order equally likely (Fisher & Yates).
    pub fn shuffle<T>(&mut self, values: &mut [T]) {
        values.shuffle(&mut self.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_numbers_and_streams_differ() {
        let draw = |mut r: Seeded| (0..8).map(|_| r.index(1000)).collect::<Vec<_>>();
        assert_eq!(draw(Seeded::new(7)), draw(Seeded::new(7)));
        assert_ne!(draw(Seeded::new(7)), draw(Seeded::new(8)));
        assert_ne!(draw(Seeded::stream(7, 0)), draw(Seeded::stream(7, 1)));
        assert_eq!(Seeded::new(1).index(0), 0);
    }

    #[test]
    fn normal_deviates_have_mean_0_and_sd_1() {
        let mut rng = Seeded::new(3);
        let x: Vec<f64> = (0..20_000).map(|_| rng.normal()).collect();
        let mean = x.iter().sum::<f64>() / 20_000.0;
        let var = x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 19_999.0;
        // Four standard errors: 4/sqrt(n) and 4 sqrt(2/n).
        assert!(mean.abs() < 0.0283 && (var - 1.0).abs() < 0.04, "{mean} {var}");
    }
}
