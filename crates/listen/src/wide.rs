//! The widest vector instructions of the processor at hand, found when the program runs.
//!
//! A build for everyone may use only what every processor has: on x86, four floats at a time. `wide` has a loop compiled
//! a second time for processors that do eight, and takes the better one. Neither reorders arithmetic.

use pulp::Arch;

/// Runs `work` compiled for the processor's widest vectors. Only what is inlined into it gains: closures, and functions
/// marked `#[inline(always)]`.
pub(crate) fn wide<R>(work: impl FnOnce() -> R) -> R {
    Arch::new().dispatch(work)
}

/// Whether `f32::mul_add` within [`wide`] is one instruction; elsewhere it is a slow call.
pub(crate) fn fuses() -> bool {
    #[cfg(target_arch = "x86_64")]
    return matches!(Arch::new(), Arch::V3(_));
    #[cfg(not(target_arch = "x86_64"))]
    return cfg!(target_arch = "aarch64");
}
