//! Back along the table from its end: the runs of the best path.

use super::model::{Chain, Link};
use super::table::{LAYERS, Move};

/// Where each kept cell came from, row by row, and where the best path outside any run came from.
#[derive(Default)]
pub(super) struct Trail {
    pub(super) rows: Vec<Vec<(u32, Move, u8)>>,
    /// After each attack: the cell at which a run ended here, where ending one is the best way to be outside.
    pub(super) outside: Vec<Option<u32>>,
}

/// Walks back from the end; runs in order of time.
pub(super) fn trace(trail: &Trail, start: usize, n: usize) -> Vec<Chain> {
    let mut chains = Vec::new();
    let mut row = trail.rows.len();
    while row > 0 {
        row -= 1;
        let Some(end) = trail.outside[row] else { continue };
        // Moves backward from the end: note numbers are counted down from 0 and shifted once the start is known.
        let (mut p, mut layer) = (end as usize / LAYERS, end as usize % LAYERS);
        let (mut back, mut links) = (0, Vec::new());
        loop {
            let cell = (p * LAYERS + layer) as u32;
            let Ok(at) = trail.rows[row].binary_search_by_key(&cell, |c| c.0) else { break };
            let (_, by, after) = trail.rows[row][at];
            if by.layer() == 0 {
                links.push((back, row + start, by == Move::Anew));
            }
            if by == Move::Start || (by != Move::Miss && row == 0) {
                break;
            }
            layer = usize::from(after);
            if by != Move::LeaveOut {
                p = (p + n - 1) % n;
                back += 1;
            }
            if by != Move::Miss {
                row -= 1;
            }
        }
        let last = p + back;
        links.reverse();
        let links = links.into_iter().map(|(b, attack, anew)| Link { note: last - b, attack, anew }).collect();
        chains.push(Chain { first: p, last, links });
    }
    chains.reverse();
    chains
}
