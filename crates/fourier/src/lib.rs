//! Fourier transforms of real samples, compiled once.
//!
//! realfft and rustfft are generic over the kind of number, so whoever makes a plan compiles every algorithm in them anew:
//! that was half of what four of the rooms took to compile. Here plans are made for `f32`; what is handed out is called
//! through a trait object, as in those crates themselves.
//!
//! Lengths are in samples. A plan is kept for its thread, so asking for the same length again is cheap. Transforms are not
//! scaled: forward and inverse together multiply by the length.

pub use realfft::num_complex::Complex32;
pub use realfft::{ComplexToReal, RealToComplex};

use realfft::RealFftPlanner;
use std::cell::RefCell;
use std::sync::Arc;

thread_local! {
    static PLANNER: RefCell<RealFftPlanner<f32>> = RefCell::new(RealFftPlanner::new());
}

/// From `len` samples to `len / 2 + 1` bins.
pub fn forward(len: usize) -> Arc<dyn RealToComplex<f32>> {
    PLANNER.with_borrow_mut(|planner| planner.plan_fft_forward(len))
}

/// From `len / 2 + 1` bins to `len` samples.
pub fn inverse(len: usize) -> Arc<dyn ComplexToReal<f32>> {
    PLANNER.with_borrow_mut(|planner| planner.plan_fft_inverse(len))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cosine of 3 turns in 16 samples is one bin of half its length; there and back is the length times what was given.
    #[test]
    fn one_line_there_and_back() -> Result<(), realfft::FftError> {
        let cosine = |k: usize| (std::f64::consts::TAU * 3.0 * k as f64 / 16.0).cos();
        let mut samples: Vec<f32> = (0..16).map(|k| cosine(k) as f32).collect();
        let mut bins = vec![Complex32::default(); 9];
        forward(16).process(&mut samples, &mut bins)?;
        let expected = |k: usize| if k == 3 { 8.0 } else { 0.0 };
        assert!(bins.iter().enumerate().all(|(k, z)| (z - Complex32::new(expected(k), 0.0)).norm() < 1e-5), "{bins:?}");

        bins[0].im = 0.0;
        bins[8].im = 0.0;
        inverse(16).process(&mut bins, &mut samples)?;
        assert!(
            samples.iter().enumerate().all(|(k, x)| (f64::from(*x) - 16.0 * cosine(k)).abs() < 1e-4),
            "{samples:?}"
        );
        Ok(())
    }
}
