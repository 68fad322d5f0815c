//! What can be wrong with an input.

use thiserror::Error;

/// The result of every fallible function of this crate.
pub type Result<T> = std::result::Result<T, StatsError>;

/// Why a statistic cannot be computed. Each one is about the input; none is an internal failure.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum StatsError {
    /// A sample, a group or a list that must hold something holds nothing.
    #[error("no values: at least one is needed")]
    Empty,
    /// A value is NaN, infinite or beyond 1e60 in size; the index counts from 0.
    #[error("value {index} is not a usable number: values must be finite and below 1e60 in size")]
    NotFinite {
        /// Where it stands, from 0.
        index: usize,
    },
    /// Fewer values than the statistic is defined for.
    #[error("{got} values, but at least {needed} are needed")]
    TooFew {
        /// The least number that will do.
        needed: usize,
        /// The number given.
        got: usize,
    },
    /// More values than a statistic over all pairs can take in reasonable time.
    #[error("{got} values, but at most {most} can be compared pair by pair: take medians of stretches first")]
    TooMany {
        /// The largest number that will do.
        most: usize,
        /// The number given.
        got: usize,
    },
    /// Two inputs that run in parallel differ in length.
    #[error("two parallel lists differ in length: {left} against {right}")]
    LengthMismatch {
        /// Length of the first.
        left: usize,
        /// Length of the second.
        right: usize,
    },
    /// An argument outside its range.
    #[error("{what} is out of range: {allowed}")]
    OutOfRange {
        /// Which argument.
        what: &'static str,
        /// What is allowed.
        allowed: &'static str,
    },
    /// All values are equal where the statistic divides by their spread.
    #[error("all values are equal, so their spread cannot be used as a measure")]
    NoSpread,
    /// Least squares on columns that depend on one another.
    #[error("the columns of the fit depend on one another, so that their effects cannot be told apart")]
    Singular,
}
