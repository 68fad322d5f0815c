//! Permutation tests: values are shuffled within blocks (repeats), so that what differs from block to block cannot
//! pass for an effect; several statistics are judged together by their maximum.
//!
//! p = (1 + number of permutations at least as extreme) / (1 + number of permutations): Phipson & Smyth (2010),
//! Stat. Appl. Genet. Mol. Biol. 9:39. It is never 0.

use crate::bootstrap::members_of;
use crate::error::{Result, StatsError};
use crate::random::Seeded;
use crate::sample::{Sample, same_length};

/// Shuffles values within blocks, over and over, without allocating.
#[derive(Debug, Clone)]
pub struct BlockShuffle {
    members: Vec<Vec<usize>>,
    values: Vec<f64>,
    scratch: Vec<f64>,
    rng: Seeded,
}

impl BlockShuffle {
    /// `blocks[k]` names the block of value k.
    ///
    /// # Errors
    /// [`StatsError::LengthMismatch`] if the lists differ in length.
    pub fn new(sample: Sample, blocks: &[usize], seed: u64) -> Result<Self> {
        same_length(sample.len(), blocks.len())?;
        Ok(Self {
            members: members_of(blocks),
            values: sample.values().to_vec(),
            scratch: Vec::with_capacity(blocks.len()),
            rng: Seeded::new(seed),
        })
    }

    /// The next permutation, in the order of the sample.
    pub fn next_values(&mut self) -> &[f64] {
        for block in &self.members {
            self.scratch.clear();
            self.scratch.extend(block.iter().map(|&i| self.values[i]));
            self.rng.shuffle(&mut self.scratch);
            for (&i, &v) in block.iter().zip(&self.scratch) {
                self.values[i] = v;
            }
        }
        &self.values
    }
}

/// What a permutation test says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PermutationTest {
    /// The statistic of the data as they are.
    pub observed: f64,
    /// Chance of one at least as large with the values shuffled, above 0, at most 1.
    pub p: f64,
    /// Number of permutations.
    pub permutations: usize,
}

/// Tests `statistic` (large = extreme) by shuffling within blocks. With a statistic that is the largest of several the
/// p-value is corrected for their number (Westfall & Young 1993, Resampling-Based Multiple Testing, sect. 2.3).
///
/// # Errors
/// [`StatsError::LengthMismatch`]; [`StatsError::OutOfRange`] for no permutations; [`StatsError::NotFinite`] if the
/// statistic of the data is no number.
pub fn test_within_blocks(
    sample: Sample,
    blocks: &[usize],
    permutations: usize,
    seed: u64,
    mut statistic: impl FnMut(&[f64]) -> f64,
) -> Result<PermutationTest> {
    if permutations == 0 {
        return Err(StatsError::OutOfRange { what: "number of permutations", allowed: "at least 1" });
    }
    let observed = statistic(sample.values());
    if !observed.is_finite() {
        return Err(StatsError::NotFinite { index: 0 });
    }
    let mut shuffle = BlockShuffle::new(sample, blocks, seed)?;
    let least = tie_bound(observed);
    let extreme = (0..permutations).filter(|_| statistic(shuffle.next_values()) >= least).count();
    Ok(PermutationTest { observed, p: (1 + extreme) as f64 / (1 + permutations) as f64, permutations })
}

/// Sums in another order differ in the last bits: what is equal up to rounding counts as equally extreme.
pub(crate) fn tie_bound(observed: f64) -> f64 {
    observed - 1e-9 * observed.abs()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn values_stay_in_their_block() {
        let y = [1.0, 2.0, 3.0, 10.0, 20.0];
        let mut s = BlockShuffle::new(Sample::new(&y).unwrap(), &[0, 0, 0, 1, 1], 3).unwrap();
        for _ in 0..50 {
            let v = s.next_values();
            assert!(v[..3].iter().all(|x| *x < 5.0) && v[3..].iter().all(|x| *x > 5.0));
        }
    }

    #[test]
    fn p_comes_close_to_the_exact_one() {
        // Exact: the two largest of 6 fall into the first two places in 1 of 15 ways.
        let y = [9.0, 8.0, 1.0, 2.0, 3.0, 4.0];
        let t = test_within_blocks(Sample::new(&y).unwrap(), &[0; 6], 9999, 1, |v| v[0] + v[1]).unwrap();
        assert!((t.p - 1.0 / 15.0).abs() < 0.012, "{}", t.p);
    }

    #[test]
    fn mistakes_are_errors() {
        let s = Sample::new(&[1.0, 2.0]).unwrap();
        assert!(test_within_blocks(s, &[0], 99, 1, |v| v[0]).is_err());
        assert!(test_within_blocks(s, &[0, 0], 0, 1, |v| v[0]).is_err());
        assert!(test_within_blocks(s, &[0, 0], 9, 1, |_| f64::NAN).is_err());
    }

    proptest! {
        #[test]
        fn p_is_above_0_and_at_most_1(y in prop::collection::vec(-1e3f64..1e3, 2..20), seed in 0u64..99) {
            let blocks: Vec<usize> = (0..y.len()).map(|k| k % 3).collect();
            let t = test_within_blocks(Sample::new(&y).unwrap(), &blocks, 49, seed, |v| v[0].abs()).unwrap();
            prop_assert!(t.p > 0.0 && t.p <= 1.0);
        }
    }
}
