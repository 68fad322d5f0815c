//! How far a take is.

use std::ops::ControlFlow;

/// The two times that a take is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pass {
    /// For attacks, without the drill.
    Listening,
    /// With the notes to expect.
    Measuring,
}

/// Told how far a take is, on the thread that reads it.
pub trait Progress {
    /// A pass begins; `samples` are those that the file declares, where it does.
    fn begin(&self, pass: Pass, samples: Option<u64>);
    /// So many more samples were read; whether to go on.
    fn advance(&self, samples: u64) -> ControlFlow<()>;
    /// Between the passes the drill is sought in what was heard: the share of that which is done, 0 to 1 (for a take
    /// that fits it is over at once); whether to go on.
    fn seek(&self, _share: f64) -> ControlFlow<()> {
        ControlFlow::Continue(())
    }
}

/// Tells nobody and goes on to the end.
impl Progress for () {
    fn begin(&self, _: Pass, _: Option<u64>) {}
    fn advance(&self, _: u64) -> ControlFlow<()> {
        ControlFlow::Continue(())
    }
}
