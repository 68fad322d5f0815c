//! Locks, and work off the threads that answer.

use crate::trouble::Trouble;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// A lock whose holder panicked guards data that is still whole: every change here is one step.
pub(crate) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Runs what may wait for the disk or the processor away from the threads that answer.
pub(crate) async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Trouble> + Send + 'static,
) -> Result<T, Trouble> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(e) => Err(Trouble::Inside(format!("The work stopped: {e}."))),
    }
}
