//! The least-cost reading of a stretch of attacks as a drill: which attack is which note, where it breaks off and
//! starts again, which attacks are none.
//!
//! Dynamic programming over attacks x slots of the folded line. Each cell keeps its best path only, and with it that
//! path's own estimate of where the grid stands and how fast it goes, a two-state Kalman filter (per-survivor
//! processing: Raheli, Polydoros & Tzou 1995, IEEE Trans. Commun. 43:354-364). So neither offset nor tempo need be
//! known, and both may drift. Order is kept by construction; no pair is ruled in or out by a hit window.

mod estimate;
mod model;
mod table;
mod trail;

use crate::cost::{Costs, pause, timing};
use crate::line::{Line, Slot};
use crate::tuning::path::{
    ABRUPT, BEAM, BEST_TIMING, BREAK, BROKEN_OFF, INSIDE, NARROW, PULL, RIGHT_AFTER, SURE_START, WIDEST, WORST_START,
};
use crate::tuning::timing::LEGATO_SCATTER;
use estimate::{advance, drawn};
use table::{Cell, LAYERS, Move, Row};
use trail::{Trail, trace};

pub(crate) use model::{Chain, Link, Prior};

/// Prices of beginning and ending a run: stating at which attack it begins and at which note.
#[derive(Debug, Clone)]
struct Ends {
    open: Vec<f64>,
    close: Vec<f64>,
}

impl Ends {
    fn new(line: &Line, attacks: usize) -> Self {
        let inside = (line.slots.len() as f64).ln() + INSIDE;
        let when = (attacks as f64 + 1.0).ln() + BREAK;
        let open = |s: &Slot| when + if s.opens { 0.0 } else { inside } + if s.picked { 0.0 } else { f64::INFINITY };
        let close = |s: &Slot| if s.closes { 0.0 } else { BROKEN_OFF };
        Self { open: line.slots.iter().map(open).collect(), close: line.slots.iter().map(close).collect() }
    }
}

/// The least-cost path through attacks `range` of `costs`; its cost (0 or below: 0 is "all noodling") and its runs.
pub(crate) fn search(costs: &Costs, range: std::ops::Range<usize>, line: &Line, prior: Prior) -> (f64, Vec<Chain>) {
    let mut trail = Trail::default();
    let cost = sweep(costs, range.clone(), line, prior, WIDEST, Some(&mut trail));
    (cost, trace(&trail, range.start, line.slots.len()))
}

/// Whether there is any run to be found, at a fraction of the search's cost: few paths are kept, and beginnings inside
/// the line only where the sound speaks for them. Noise and other music are told by this from the drill; what passes is
/// searched in full.
pub(crate) fn promising(costs: &Costs, range: std::ops::Range<usize>, line: &Line, prior: Prior) -> bool {
    sweep(costs, range, line, prior, NARROW, None) < 0.0
}

/// The cost of the least-cost path; where it went, if that is wanted.
fn sweep(
    costs: &Costs,
    range: std::ops::Range<usize>,
    line: &Line,
    prior: Prior,
    widest: usize,
    mut trail: Option<&mut Trail>,
) -> f64 {
    let worst_start = if trail.is_some() { WORST_START } else { SURE_START };
    let ends = Ends::new(line, range.len());
    let dearest_end = ends.close.iter().copied().fold(0.0, f64::max);
    let cheapest_start = ends.open.iter().copied().fold(f64::INFINITY, f64::min);
    let beam = dearest_end + cheapest_start + 2.0 * ABRUPT + (line.slots.len() as f64).ln() + BEAM;
    let usual_gap = line.usual_gap * prior.rate;
    let mut now = Row::new(line.slots.len(), beam, widest);
    let mut next = Row::new(line.slots.len(), beam, widest);
    let mut outside = 0.0;
    for i in range.clone() {
        next.clear();
        next.least = outside;
        step(costs, i, line, prior, usual_gap, &now, &mut next);
        let abrupt = |a: usize, b: usize| {
            let near = range.contains(&a) && range.contains(&b) && costs.strong[a] && costs.strong[b];
            if near && costs.times[b] - costs.times[a] < RIGHT_AFTER * usual_gap { ABRUPT } else { 0.0 }
        };
        let begin = outside + if i > range.start { abrupt(i - 1, i) } else { 0.0 };
        for (p, slot) in line.slots.iter().enumerate() {
            let sound = costs.sound(i, slot);
            let cost = begin + ends.open[p] + sound;
            // A wrong note inside the line begins no run; it is found again once the run is known.
            if cost <= next.limit() && (slot.opens || sound <= worst_start) {
                let var = (prior.scatter.powi(2), 0.0, (prior.rate * prior.rate_spread).powi(2));
                let cell = Cell { cost, by: Move::Start, after: 0, at: costs.times[i], rate: prior.rate, var };
                next.relax(p, cell);
            }
        }
        next.prune(next.limit());
        miss_on(costs, line, prior, &mut next);
        let (mut ended, stop) = (None, abrupt(i, i + 1));
        for p in &next.alive {
            let Some(cell) = next.cells[*p as usize] else { continue };
            let cost = cell.cost + ends.close[*p as usize / LAYERS] + stop;
            if cost < outside {
                outside = cost;
                ended = Some(*p);
            }
        }
        if let Some(trail) = &mut trail {
            trail.outside.push(ended);
            let kept = next.alive.iter().filter_map(|p| next.cells[*p as usize].map(|c| (*p, c.by, c.after)));
            trail.rows.push(kept.collect());
        }
        std::mem::swap(&mut now, &mut next);
    }
    outside
}

/// Everything that attack `i` can mean to the runs alive.
fn step(costs: &Costs, i: usize, line: &Line, prior: Prior, usual_gap: f64, now: &Row, next: &mut Row) {
    let time = costs.times[i];
    for p in &now.alive {
        let Some(mut cell) = now.cells[*p as usize] else { continue };
        let p = *p as usize / LAYERS;
        cell.after = cell.by.layer() as u8;
        next.relax(p, Cell { cost: cell.cost + costs.leave_out(i), by: Move::LeaveOut, ..cell });
        let q = (p + 1) % line.slots.len();
        let slot = &line.slots[q];
        let sound = costs.sound(i, slot);
        if cell.cost + sound + BEST_TIMING > next.limit() {
            continue;
        }
        let ahead = advance(&cell, line.slots[p].gap, prior);
        let error = time - ahead.at;
        let scatter = prior.scatter * if slot.picked { 1.0 } else { LEGATO_SCATTER };
        let own = scatter.powi(2) + costs.variance[i];
        let total = ahead.var.0 + own;
        let cost = cell.cost + sound + timing(error, total, usual_gap);
        next.relax(q, Cell { cost, by: Move::Match, ..drawn(ahead, error, own) });
        if error > PULL * total.sqrt() {
            let var = (own, 0.0, ahead.var.2);
            let cost = cell.cost + sound + pause(error, usual_gap);
            next.relax(q, Cell { cost, by: Move::Anew, at: time, var, ..ahead });
        }
    }
}

/// Lets runs go past notes that were not heard.
fn miss_on(costs: &Costs, line: &Line, prior: Prior, row: &mut Row) {
    for from in row.alive.clone() {
        let mut from = from as usize;
        for _ in 0..line.slots.len() {
            let Some(cell) = row.cells[from] else { break };
            let p = from / LAYERS;
            let q = (p + 1) % line.slots.len();
            let cost = cell.cost + costs.miss(&line.slots[q], cell.by == Move::Miss);
            let ahead = advance(&cell, line.slots[p].gap, prior);
            let after = cell.by.layer() as u8;
            if cost > row.limit() || !row.relax(q, Cell { cost, by: Move::Miss, after, ..ahead }) {
                break;
            }
            from = q * LAYERS + Move::Miss.layer();
        }
    }
    row.alive.sort_unstable();
}
