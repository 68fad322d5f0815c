//! Plain statistics on plain numbers: robust location and spread, intervals, resampling, trends, and the search for
//! the groups of notes that differ from the rest.
//!
//! Conventions:
//! - Data enter through [`Sample`], which checks once that there is at least one value and that each is finite; every
//!   function below it is total: it returns a finite number or a [`StatsError`], never NaN or an infinity.
//! - Units are the caller's. Where two inputs must share a unit, the function says so.
//! - A confidence level is the two-sided probability, 0.95 for a 95 % interval; p-values are two-sided unless named.
//! - Random procedures take a seed and run on ChaCha8, so that the same input gives the same output everywhere.

pub mod bootstrap;
pub mod changepoint;
pub mod circular;
pub mod comparison;
mod dist;
mod error;
pub mod evenness;
pub mod growth;
pub mod intervals;
pub mod ladder;
pub mod linear;
pub mod margin;
pub mod moments;
pub mod multiple;
pub mod permutation;
mod random;
pub mod robust;
mod sample;
pub mod search;
pub mod smooth;
pub mod spread;
pub mod takes;
pub mod timing;
pub mod trend;

pub use error::{Result, StatsError};
pub use random::Seeded;
pub use sample::{Estimate, Interval, Sample};
