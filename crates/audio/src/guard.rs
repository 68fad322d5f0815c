//! Symphonia 0.6 panics on some damaged files (an overflow in an AIFF header's frame size is one, found by the mutation
//! test in tests/damaged.rs). A forged file must end in an error, so its demuxers and decoders run behind this guard.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::Once;

thread_local! {
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

/// Runs `work`; `None` if it panicked. Whatever it was working on must not be used again after that.
pub(crate) fn caught<T>(work: impl FnOnce() -> T) -> Option<T> {
    static QUIET: Once = Once::new();
    // The panic is reported as an error of the file: its own message on the terminal would only frighten. Every other
    // panic goes to the hook that was there before.
    QUIET.call_once(|| {
        let before = take_hook();
        set_hook(Box::new(move |info| {
            if !GUARDED.get() {
                before(info);
            }
        }));
    });
    let outer = GUARDED.replace(true);
    let result = catch_unwind(AssertUnwindSafe(work)).ok();
    GUARDED.set(outer);
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_nothing() {
        assert_eq!(caught(|| 7), Some(7));
        let none: Vec<u8> = Vec::new();
        assert_eq!(caught(|| none[none.len()]), None);
        assert!(!GUARDED.get());
    }
}
