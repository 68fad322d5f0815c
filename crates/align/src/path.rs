//! The least-cost reading of a stretch of attacks as a drill: which attack is which note, where it breaks off and
//! starts again, which attacks are none.
//!
//! Dynamic programming over attacks x slots of the folded line. Each cell keeps its best path only, and with it that
//! path's own estimate of where the grid stands and how fast it goes, a two-state Kalman filter (per-survivor
//! processing: Raheli, Polydoros & Tzou 1995, IEEE Trans. Commun. 43:354-364). So neither offset nor tempo need be
//! known, and both may drift. Order is kept by construction; no pair is ruled in or out by a hit window.

use crate::cost::{Costs, pause, timing};
use crate::line::{Line, Slot};

/// What is assumed of the playing before the path is sought.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Prior {
    /// Seconds in the take for each drill second.
    pub(crate) rate: f64,
    /// One SD of it, as a share.
    pub(crate) rate_spread: f64,
    /// One SD of a note's time about the moving grid, seconds.
    pub(crate) scatter: f64,
}

/// A note heard: which attack is which note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Link {
    /// Unwrapped: goes on counting over turns of the line.
    pub(crate) note: usize,
    pub(crate) attack: usize,
    /// The grid starts anew here, after a hesitation.
    pub(crate) anew: bool,
}

/// An unbroken run through the line.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Chain {
    /// First and last note reached, heard or not; unwrapped.
    pub(crate) first: usize,
    pub(crate) last: usize,
    pub(crate) links: Vec<Link>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Move {
    Start,
    Match,
    Anew,
    LeaveOut,
    Miss,
}

/// A cell is a slot and how the path got to it: heard just now, an attack left out since, or the slot's note not heard.
/// The three stand at different points of the grid, so that the cheapest must not drive out the others.
const LAYERS: usize = 3;

impl Move {
    fn layer(self) -> usize {
        match self {
            Self::Start | Self::Match | Self::Anew => 0,
            Self::LeaveOut => 1,
            Self::Miss => 2,
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Cell {
    cost: f64,
    by: Move,
    /// The layer of the cell before.
    after: u8,
    at: f64,
    rate: f64,
    /// Variance of `at`, covariance, variance of `rate`.
    var: (f64, f64, f64),
}

/// Tempo wanders by this share a note (one SD).
const WANDER: f64 = 0.005;
/// The grid itself wanders by this share of the scatter a note.
const SWAY: f64 = 0.15;
/// A timing error beyond this many SDs moves the grid no further than one of this many.
const PULL: f64 = 2.5;
/// Natural-log units by which an attack may sound unlike a note inside the line and yet begin a run there.
const WORST_START: f64 = 1.0;
/// A timing cost is never below this: it would take a scatter of a thousandth of the usual distance.
const BEST_TIMING: f64 = -8.0;
/// Cells kept for each attack.
const WIDEST: usize = 600;

/// Natural-log units against any run but the one before going on: a restart is rare, and so is a drill begun.
const BREAK: f64 = 10.0;
/// Natural-log units against beginning inside the line rather than at its first note, besides stating where.
const INSIDE: f64 = 2.0;
/// Natural-log units against breaking off inside the line rather than at its end.
const BROKEN_OFF: f64 = 2.0;

/// Natural-log units against beginning right after another attack, or ending right before one: a player takes breath.
const ABRUPT: f64 = 4.0;
/// What is right after, in usual distances of notes.
const RIGHT_AFTER: f64 = 1.5;

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

/// A row of the table, dense in slots and layers, with the list of those alive.
struct Row {
    cells: Vec<Option<Cell>>,
    alive: Vec<u32>,
    /// The cheapest cell's cost.
    least: f64,
    /// How much dearer than that a cell may be.
    beam: f64,
}

impl Row {
    fn new(slots: usize, beam: f64) -> Self {
        Self { cells: vec![None; slots * LAYERS], alive: Vec::new(), least: f64::INFINITY, beam }
    }

    fn clear(&mut self) {
        for p in self.alive.drain(..) {
            self.cells[p as usize] = None;
        }
        self.least = f64::INFINITY;
    }

    fn limit(&self) -> f64 {
        self.least + self.beam
    }

    /// Keeps the cheaper one; says whether the new one was it.
    fn relax(&mut self, slot: usize, cell: Cell) -> bool {
        if cell.cost > self.limit() {
            return false;
        }
        self.least = self.least.min(cell.cost);
        let p = slot * LAYERS + cell.by.layer();
        match &mut self.cells[p] {
            Some(old) if old.cost <= cell.cost => false,
            Some(old) => {
                *old = cell;
                true
            }
            empty => {
                *empty = Some(cell);
                self.alive.push(p as u32);
                true
            }
        }
    }

    /// Drops cells beyond `limit`, and the dearest where more than [`WIDEST`] are left.
    fn prune(&mut self, limit: f64) {
        let cells = &mut self.cells;
        let cost = |cells: &[Option<Cell>], p: u32| cells[p as usize].map_or(f64::INFINITY, |c| c.cost);
        if self.alive.len() > WIDEST {
            self.alive.sort_unstable_by(|a, b| cost(cells, *a).total_cmp(&cost(cells, *b)).then(a.cmp(b)));
            for p in self.alive.drain(WIDEST..) {
                cells[p as usize] = None;
            }
        }
        self.alive.retain(|p| {
            let keep = cost(cells, *p) <= limit;
            if !keep {
                cells[*p as usize] = None;
            }
            keep
        });
        self.alive.sort_unstable();
    }
}

/// Where each kept cell came from, row by row, and where the best path outside any run came from.
#[derive(Default)]
struct Trail {
    rows: Vec<Vec<(u32, Move, u8)>>,
    /// After each attack: the cell at which a run ended here, where ending one is the best way to be outside.
    outside: Vec<Option<u32>>,
}

/// The least-cost path through attacks `range` of `costs`; its cost (0 or below: 0 is "all noodling") and its runs.
pub(crate) fn search(costs: &Costs, range: std::ops::Range<usize>, line: &Line, prior: Prior) -> (f64, Vec<Chain>) {
    let ends = Ends::new(line, range.len());
    let dearest_end = ends.close.iter().copied().fold(0.0, f64::max);
    let cheapest_start = ends.open.iter().copied().fold(f64::INFINITY, f64::min);
    let beam = dearest_end + cheapest_start + 2.0 * ABRUPT + (line.slots.len() as f64).ln() + 4.0;
    let usual_gap = line.usual_gap * prior.rate;
    let mut now = Row::new(line.slots.len(), beam);
    let mut next = Row::new(line.slots.len(), beam);
    let mut outside = 0.0;
    let mut trail = Trail::default();
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
            if cost <= next.limit() && (slot.opens || sound <= WORST_START) {
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
        trail.outside.push(ended);
        let kept = next.alive.iter().filter_map(|p| next.cells[*p as usize].map(|c| (*p, c.by, c.after)));
        trail.rows.push(kept.collect());
        std::mem::swap(&mut now, &mut next);
    }
    (outside, trace(&trail, range.start, line.slots.len()))
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
        let scatter = prior.scatter * if slot.picked { 1.0 } else { 2.0 };
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

/// The grid one gap further on.
fn advance(cell: &Cell, gap: f64, prior: Prior) -> Cell {
    let (a, b, c) = cell.var;
    let var = (
        a + 2.0 * gap * b + gap * gap * c + (SWAY * prior.scatter).powi(2),
        b + gap * c,
        c + (WANDER * cell.rate).powi(2),
    );
    Cell { at: cell.at + cell.rate * gap, var, ..*cell }
}

/// The grid drawn toward a note heard `error` seconds after where it was expected.
fn drawn(cell: Cell, error: f64, own: f64) -> Cell {
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

/// Walks back from the end; runs in order of time.
fn trace(trail: &Trail, start: usize, n: usize) -> Vec<Chain> {
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
