//! Where the sound breaks off into digital silence: an edit, or a hard gate.

use super::cell::Cell;
use super::histogram::db_of_power;

/// A cell louder than this that breaks off to digital silence was cut, dBFS; and the last sample before the cut.
const CUT_FROM_DB: f64 = -45.0;
const CUT_FROM_SAMPLE: f32 = 2e-3;
/// Digital silence this many cells long (50 ms) is no chance.
const CUT_CELLS: u32 = 5;

/// Counts the cuts, cell by cell.
#[derive(Debug, Default)]
pub(crate) struct Cuts {
    /// Cells of digital silence.
    pub(crate) silent_cells: u64,
    pub(crate) found: u64,
    /// The frame at which the first one is.
    pub(crate) first: Option<u64>,
    zero_run: u32,
    before_zeros: Option<u64>,
    last_loud: bool,
    last_power: f64,
}

impl Cuts {
    /// The next cell; `seen` frames have come up to its end.
    pub(super) fn watch(&mut self, cell: &Cell, seen: u64) {
        if cell.silent() {
            self.silent_cells += 1;
            if self.zero_run == 0 {
                self.before_zeros = self.last_loud.then_some(seen.saturating_sub(cell.n as u64));
            }
            self.zero_run += 1;
            if self.zero_run == CUT_CELLS && self.before_zeros.is_some() {
                self.found += 1;
                self.first = self.first.or(self.before_zeros);
            }
        } else {
            self.zero_run = 0;
            // A cut early in a cell leaves little of it, so that the one before counts as well.
            let power = cell.squares / cell.n as f64;
            let loud = db_of_power(power.max(self.last_power)) > CUT_FROM_DB;
            self.last_loud = loud && cell.last.abs() > CUT_FROM_SAMPLE;
            self.last_power = power;
        }
    }
}
