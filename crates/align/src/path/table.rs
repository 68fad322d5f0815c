//! The table of the search: cells by slot and layer, a row an attack, kept narrow.

/// How a path got to a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Move {
    Start,
    Match,
    Anew,
    LeaveOut,
    Miss,
}

/// A cell is a slot and how the path got to it: heard just now, an attack left out since, or the slot's note not heard.
/// The three stand at different points of the grid, so that the cheapest must not drive out the others.
pub(super) const LAYERS: usize = 3;

impl Move {
    pub(super) fn layer(self) -> usize {
        match self {
            Self::Start | Self::Match | Self::Anew => 0,
            Self::LeaveOut => 1,
            Self::Miss => 2,
        }
    }
}

/// The best path to a slot and layer, and its own estimate of the grid.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    pub(super) cost: f64,
    pub(super) by: Move,
    /// The layer of the cell before.
    pub(super) after: u8,
    /// Where the grid stands, seconds into the take.
    pub(super) at: f64,
    /// Seconds in the take for each drill second.
    pub(super) rate: f64,
    /// Variance of `at`, covariance, variance of `rate`.
    pub(super) var: (f64, f64, f64),
}

/// A row of the table, dense in slots and layers, with the list of those alive.
pub(super) struct Row {
    pub(super) cells: Vec<Option<Cell>>,
    pub(super) alive: Vec<u32>,
    /// The cheapest cell's cost.
    pub(super) least: f64,
    /// How much dearer than that a cell may be.
    beam: f64,
    /// How many cells are kept.
    widest: usize,
}

impl Row {
    pub(super) fn new(slots: usize, beam: f64, widest: usize) -> Self {
        Self { cells: vec![None; slots * LAYERS], alive: Vec::new(), least: f64::INFINITY, beam, widest }
    }

    pub(super) fn clear(&mut self) {
        for p in self.alive.drain(..) {
            self.cells[p as usize] = None;
        }
        self.least = f64::INFINITY;
    }

    pub(super) fn limit(&self) -> f64 {
        self.least + self.beam
    }

    /// Keeps the cheaper one; says whether the new one was it.
    pub(super) fn relax(&mut self, slot: usize, cell: Cell) -> bool {
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

    /// Drops cells beyond `limit`, and the dearest where more than the widest row holds are left.
    pub(super) fn prune(&mut self, limit: f64) {
        let cells = &mut self.cells;
        let cost = |cells: &[Option<Cell>], p: u32| cells[p as usize].map_or(f64::INFINITY, |c| c.cost);
        if self.alive.len() > self.widest {
            let by_cost = |a: &u32, b: &u32| cost(cells, *a).total_cmp(&cost(cells, *b)).then(a.cmp(b));
            self.alive.select_nth_unstable_by(self.widest, by_cost);
            for p in self.alive.drain(self.widest..) {
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
