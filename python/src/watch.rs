//! Between the engine's work and the interpreter: interrupts come through, and who asked is told how far it is.

use pyo3::prelude::*;
use std::cell::{Cell, RefCell};
use std::ops::ControlFlow;
use std::time::{Duration, Instant};
use takegauge_take::{Pass, Progress, TakeError};

/// How long an interrupt may wait. Each look takes the interpreter's lock for a moment.
const BETWEEN_LOOKS: Duration = Duration::from_millis(30);

/// Looks up from the work now and then.
pub(crate) struct Watch {
    /// Called with the share of the work that is done, 0 to 1.
    told: Option<Py<PyAny>>,
    last: Cell<Instant>,
    /// Samples read, and of how many, in both passes together.
    read: Cell<u64>,
    whole: Cell<Option<u64>>,
    /// What the interpreter raised.
    raised: RefCell<Option<PyErr>>,
}

impl Watch {
    pub(crate) fn new(told: Option<Py<PyAny>>) -> Self {
        Self {
            told,
            last: Cell::new(Instant::now()),
            read: Cell::new(0),
            whole: Cell::new(None),
            raised: RefCell::new(None),
        }
    }

    /// The error that `work` ended with, as an exception: what the interpreter raised, where that stopped it.
    pub(crate) fn fault(self, error: TakeError) -> PyErr {
        self.raised.into_inner().unwrap_or_else(|| crate::fault::take(error))
    }

    fn look(&self) -> ControlFlow<()> {
        if self.last.get().elapsed() < BETWEEN_LOOKS {
            return ControlFlow::Continue(());
        }
        let looked = Python::attach(|py| -> PyResult<()> {
            py.check_signals()?;
            if let (Some(told), Some(whole)) = (&self.told, self.whole.get()) {
                let share = (self.read.get() as f64 / whole.max(1) as f64).min(1.0);
                told.call1(py, (share,))?;
            }
            Ok(())
        });
        self.last.set(Instant::now());
        match looked {
            Ok(()) => ControlFlow::Continue(()),
            Err(raised) => {
                *self.raised.borrow_mut() = Some(raised);
                ControlFlow::Break(())
            }
        }
    }
}

impl Progress for Watch {
    fn begin(&self, pass: Pass, samples: Option<u64>) {
        let whole = samples.map(|n| 2 * n);
        self.whole.set(whole);
        self.read.set(if pass == Pass::Listening { 0 } else { whole.unwrap_or(0) / 2 });
    }

    fn advance(&self, samples: u64) -> ControlFlow<()> {
        self.read.set(self.read.get() + samples);
        self.look()
    }

    fn seek(&self, _: f64) -> ControlFlow<()> {
        self.look()
    }
}
