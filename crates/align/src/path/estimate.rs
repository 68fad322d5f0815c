//! A path's own estimate of where the grid stands and how fast it goes: a Kalman filter of two states.

use super::model::Prior;
use super::table::Cell;
use crate::tuning::path::{LEAST_RATE, PULL, SWAY, WANDER};

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
        rate: (cell.rate + l * pull).max(LEAST_RATE * cell.rate),
        var: (a * (1.0 - k), b * (1.0 - k), (c - l * b).max(0.0)),
        ..cell
    }
}
