//! The widest vector instructions of the processor at hand, found when the program runs.
//!
//! A build for everyone may use only what every processor has: on x86, four floats at a time. `wide` has a loop compiled
//! a second time for processors that do eight (AVX2), and takes the better one. It reorders no arithmetic.

#[cfg(any(target_arch = "x86", target_arch = "x86_64"))]
use fearless_simd::{Level, Simd};

/// Runs `work` compiled for the processor's widest vectors. Only what is inlined into it gains: closures and functions
/// marked `#[inline(always)]`.
pub(crate) fn wide<R>(work: impl FnOnce() -> R) -> R {
    #[cfg(any(target_arch = "x86", target_arch = "x86_64"))]
    if let Some(avx2) = Level::new().as_avx2() {
        return avx2.vectorize(work);
    }
    work()
}

/// Whether `f32::mul_add` within [`wide`] is one instruction; elsewhere it may be a slow call.
pub(crate) fn fuses() -> bool {
    #[cfg(any(target_arch = "x86", target_arch = "x86_64"))]
    return Level::new().as_avx2().is_some();
    #[cfg(not(any(target_arch = "x86", target_arch = "x86_64")))]
    return cfg!(target_arch = "aarch64");
}
