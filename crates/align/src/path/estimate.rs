//! A path's own estimate of where the grid stands and how fast it goes: a Kalman filter of two states.

use super::model::Prior;
use super::table::Cell;

/// Tempo wanders by this share a note (one SD).
const WANDER: f64 = 0.005;
/// The grid itself wanders by this share of the scatter a note.
const SWAY: f64 = 0.15;
/// A timing error beyond this many SDs moves the grid no further than one of this many.
pub(super) const PULL: f64 = 2.5;

/// The grid one gap further on.
pub(super) fn advance(cell: &Cell, gap: f64, prior: Prior) -> Cell {
    let (a, b, c) = cell.var;
    let var = (
        a + 2.0 * gap * b + gap * gap * c + (SWAY * prior.scatter).powi(2),
        b + gap * c,
        c + (WANDER * cell.rate).powi(2),
    );
    Cell { at: cell.at + cell.rate * gap, var, ..*cell }
}

/// The grid drawn toward a note heard `error` seconds after where it was expected.
pub(super) fn drawn(cell: Cell, error: f64, own: f64) -> Cell {
    let (a, b, c) = cell.var;
    let total = a + own;
    let pull = error.clamp(-PULL * total.sqrt(), PULL * total.sqrt());
    let (k, l) = (a / total, b / total);
    Cell {
        at: cell.at + k * pull,
        rate: (cell.rate + l * pull).max(0.05 * cell.rate),
        var: (a * (1.0 - k), b * (1.0 - k), (c - l * b).max(0.0)),
        ..cell
    }
}
