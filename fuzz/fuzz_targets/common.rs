//! What every target does with its bytes.

#![allow(dead_code)] // each target takes its part

#[path = "../../tests/corpus/properties.rs"]
pub mod properties;

use std::time::{Duration, Instant};

#[global_allocator]
static HELD: cap::Cap<std::alloc::System> = cap::Cap::new(std::alloc::System, usize::MAX);

/// More than this for any input is a failure: an allocation beyond it fails, and the run ends there.
const MOST_BYTES: usize = 300_000_000;
/// Longer than this is a failure, instrumentation included.
const LONGEST: Duration = Duration::from_secs(10);

/// Holds the bytes against the property of their kind, counting memory and time.
pub fn accounted(kind: &str, bytes: &[u8]) {
    let (begun, before) = (Instant::now(), HELD.allocated());
    HELD.set_limit(before + MOST_BYTES).expect("more is held than the limit");
    properties::hold(kind, bytes);
    HELD.set_limit(usize::MAX).expect("no limit");
    let took = begun.elapsed();
    assert!(took < LONGEST, "{kind}: {took:?}");
}
