//! The player's own clock: a tempo that may drift.

/// Maps drill time to take time within a pass.
#[derive(Clone, Copy)]
pub(super) struct Clock {
    /// Take time of the pass's first note, seconds.
    pub(super) offset: f64,
    /// Tempo at the start, against the drill's.
    pub(super) factor: f64,
    /// By what share the tempo has grown at the pass's end.
    pub(super) change: f64,
    /// The pass's length in drill time, seconds.
    pub(super) span: f64,
}

impl Clock {
    /// `x` seconds of drill time after the pass's first note. The tempo grows linearly with `x`, so take time is the
    /// integral of 1 / (factor (1 + change x / span)).
    pub(super) fn at(self, x: f64) -> f64 {
        if x <= 0.0 || self.change.abs() < 1e-9 || self.span <= 0.0 {
            return self.offset + x / self.factor;
        }
        let x = x.min(4.0 * self.span);
        let grown = (1.0 + self.change * x / self.span).max(0.05);
        self.offset + self.span / (self.change * self.factor) * grown.ln()
    }
}
