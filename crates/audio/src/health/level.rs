//! Level, clipping, offset and cuts, from the samples in cells of 10 ms.

use super::histogram::{LevelHistogram, db_of_power};

/// Samples in a row at the top before they count as clipped: two at full scale, four equal ones at a lower flat top.
/// A sine of 500 Hz at 44.1 kHz in 16 bits has at most three equal samples at its top.
const FULL_SCALE_RUN: u64 = 2;
const FLAT_RUN: u64 = 4;
/// Full scale of 16-bit samples is 32767/32768 upward.
const FULL_SCALE: f32 = 0.999_9;
/// Cells that join to one of 50 ms, for levels.
const JOINED: usize = 5;
/// Below this a cell says nothing of a waveform's shape, dBFS.
const SOUNDING_DB: f64 = -60.0;
/// A cell louder than this that breaks off to digital silence was cut, dBFS; and the last sample before the cut.
const CUT_FROM_DB: f64 = -45.0;
const CUT_FROM_SAMPLE: f32 = 2e-3;
/// Digital silence this many cells long (50 ms) is no chance.
const CUT_CELLS: u32 = 5;
/// The offset is taken from the quietest cells, one in so many: drive makes a wave lopsided while it sounds.
const QUIET_ONE_IN: usize = 10;
/// Cells kept for what needs more than a histogram.
const MAX_KEPT: usize = 8192;

pub(crate) struct LevelMeter {
    cell_len: usize,
    cell: Cell,
    joined: Cell,
    joined_cells: usize,
    seen: u64,
    pub(crate) sum: f64,
    pub(crate) squares: f64,
    pub(crate) peak: f32,
    pub(crate) levels: LevelHistogram,
    /// Peaks of sounding 50 ms cells.
    peaks: LevelHistogram,
    kept: Vec<Shape>,
    keep_every: u64,
    joined_seen: u64,
    top: [Top; 2],
    pub(crate) silent_cells: u64,
    pub(crate) cells: u64,
    zero_run: u32,
    before_zeros: Option<u64>,
    pub(crate) cuts: u64,
    pub(crate) first_cut: Option<u64>,
    last_loud: bool,
    last_power: f64,
}

/// What is kept of a 50 ms cell.
#[derive(Debug, Clone, Copy)]
struct Shape {
    level_db: f32,
    crest_db: f32,
    mean: f32,
}

#[derive(Debug, Clone, Copy, Default)]
struct Cell {
    n: usize,
    sum: f64,
    squares: f64,
    min: f32,
    max: f32,
    last: f32,
}

/// Flat tops on one side of the waveform, at the highest level so far.
#[derive(Debug, Clone, Copy, Default)]
struct Top {
    level: f32,
    run: u64,
    clipped: u64,
    runs: u64,
    first: Option<u64>,
}

/// What the meter found about clipping.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Clipping {
    pub(crate) samples: u64,
    pub(crate) runs: u64,
    pub(crate) first: Option<u64>,
}

impl LevelMeter {
    pub(crate) fn new(rate_hz: u32) -> Self {
        Self {
            cell_len: (rate_hz as usize / 100).max(1),
            cell: Cell::default(),
            joined: Cell::default(),
            joined_cells: 0,
            seen: 0,
            sum: 0.0,
            squares: 0.0,
            peak: 0.0,
            levels: LevelHistogram::new(),
            peaks: LevelHistogram::new(),
            kept: Vec::new(),
            keep_every: 1,
            joined_seen: 0,
            top: [Top::default(); 2],
            silent_cells: 0,
            cells: 0,
            zero_run: 0,
            before_zeros: None,
            cuts: 0,
            first_cut: None,
            last_loud: false,
            last_power: 0.0,
        }
    }

    pub(crate) fn push(&mut self, mut block: &[f32]) {
        while !block.is_empty() {
            let n = block.len().min(self.cell_len - self.cell.n);
            let (part, rest) = block.split_at(n);
            let (low, high) = extremes(part);
            self.cell.add(part, low, high);
            self.scan_tops(part, low, high);
            self.seen += n as u64;
            if self.cell.n == self.cell_len {
                self.close_cell();
            }
            block = rest;
        }
    }

    /// Ends the last cells, however short.
    pub(crate) fn finish(&mut self) {
        if self.cell.n > 0 {
            self.close_cell();
        }
        if self.joined_cells > 0 {
            self.close_joined();
        }
        for top in &mut self.top {
            top.end_run(self.seen);
        }
    }

    fn close_cell(&mut self) {
        let cell = std::mem::take(&mut self.cell);
        self.sum += cell.sum;
        self.squares += cell.squares;
        self.peak = self.peak.max(cell.max.max(-cell.min));
        self.cells += 1;
        self.watch_cuts(&cell);
        self.joined.join(&cell);
        self.joined_cells += 1;
        if self.joined_cells == JOINED {
            self.close_joined();
        }
    }

    fn close_joined(&mut self) {
        let cell = std::mem::take(&mut self.joined);
        self.joined_cells = 0;
        let mean = cell.sum / cell.n as f64;
        let power = (cell.squares / cell.n as f64 - mean * mean).max(0.0);
        if cell.max == 0.0 && cell.min == 0.0 {
            return;
        }
        self.levels.add_power(power);
        let db = db_of_power(power);
        let peak = f64::from(cell.max.max(-cell.min));
        if db > SOUNDING_DB {
            self.peaks.add_power(peak * peak);
        }
        let crest_db = (db_of_power(peak * peak) - db) as f32;
        self.keep(Shape { level_db: db as f32, crest_db, mean: mean as f32 });
    }

    /// Keeps an even sample of the cells: every second one is dropped each time that too many are held.
    fn keep(&mut self, shape: Shape) {
        if self.joined_seen.is_multiple_of(self.keep_every) {
            self.kept.push(shape);
            if self.kept.len() == MAX_KEPT {
                let mut odd = false;
                self.kept.retain(|_| {
                    odd = !odd;
                    odd
                });
                self.keep_every *= 2;
            }
        }
        self.joined_seen += 1;
    }

    fn watch_cuts(&mut self, cell: &Cell) {
        let zero = cell.max == 0.0 && cell.min == 0.0;
        if zero {
            self.silent_cells += 1;
            if self.zero_run == 0 {
                self.before_zeros = self.last_loud.then_some(self.seen.saturating_sub(cell.n as u64));
            }
            self.zero_run += 1;
            if self.zero_run == CUT_CELLS && self.before_zeros.is_some() {
                self.cuts += 1;
                self.first_cut = self.first_cut.or(self.before_zeros);
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

    fn scan_tops(&mut self, part: &[f32], low: f32, high: f32) {
        let at = self.seen;
        // Only where this part comes up to the highest so far can it hold a flat top of it.
        if high > 0.0 && high >= self.top[0].level.min(FULL_SCALE) {
            self.top[0].scan(part.iter().copied(), at);
        } else {
            self.top[0].end_run(at);
        }
        if low < 0.0 && -low >= self.top[1].level.min(FULL_SCALE) {
            self.top[1].scan(part.iter().map(|x| -x), at);
        } else {
            self.top[1].end_run(at);
        }
    }

    pub(crate) fn clipping(&self) -> Clipping {
        let loudest = self.top[0].level.max(self.top[1].level);
        let mut all = Clipping::default();
        for top in &self.top {
            // One flat top may be chance, and one side's may be the shape of a wave that is far from full.
            if top.runs >= 2 && top.level > 0.5 * loudest || top.level >= FULL_SCALE {
                all.samples += top.clipped;
                all.runs += top.runs;
                all.first = [all.first, top.first].into_iter().flatten().min();
            }
        }
        all
    }

    /// The constant offset, as a share of full scale.
    pub(crate) fn offset(&self) -> f64 {
        let mut cells = self.kept.clone();
        cells.sort_by(|a, b| a.level_db.total_cmp(&b.level_db));
        cells.truncate(cells.len().div_ceil(QUIET_ONE_IN));
        middle(cells.iter().map(|c| c.mean)).unwrap_or(0.0)
    }

    /// Median peak-to-rms ratio of the louder half of the sounding cells, dB.
    pub(crate) fn crest_db(&self) -> Option<f64> {
        let sounding = || self.kept.iter().filter(|c| f64::from(c.level_db) > SOUNDING_DB);
        let half = middle(sounding().map(|c| c.level_db))?;
        middle(sounding().filter(|c| f64::from(c.level_db) >= half).map(|c| c.crest_db))
    }

    /// Share of the sounding cells that come within 1 dB of the highest peak.
    pub(crate) fn near_peak_share(&self) -> f64 {
        let peak_db = 20.0 * f64::from(self.peak).max(1e-10).log10();
        self.peaks.above_db(peak_db - 1.0) as f64 / self.peaks.len().max(1) as f64
    }
}

impl Cell {
    fn add(&mut self, part: &[f32], low: f32, high: f32) {
        let mut squares = [0f32; 8];
        let (chunks, rest) = part.as_chunks::<8>();
        for c in chunks {
            for i in 0..8 {
                squares[i] += c[i] * c[i];
            }
        }
        self.sum += f64::from(lane_sum(part));
        self.squares += squares.iter().map(|x| f64::from(*x)).sum::<f64>();
        self.squares += rest.iter().map(|x| f64::from(*x) * f64::from(*x)).sum::<f64>();
        self.min = if self.n == 0 { low } else { self.min.min(low) };
        self.max = if self.n == 0 { high } else { self.max.max(high) };
        self.n += part.len();
        if let Some(x) = part.iter().rev().find(|x| **x != 0.0) {
            self.last = *x;
        }
    }

    fn join(&mut self, other: &Cell) {
        self.min = if self.n == 0 { other.min } else { self.min.min(other.min) };
        self.max = if self.n == 0 { other.max } else { self.max.max(other.max) };
        self.n += other.n;
        self.sum += other.sum;
        self.squares += other.squares;
    }
}

impl Top {
    fn scan(&mut self, part: impl Iterator<Item = f32>, from: u64) {
        for (x, at) in part.zip(from..) {
            if x > self.level {
                // A new highest: what lay flat below it was not clipped there.
                let first = self.first.filter(|_| self.level >= FULL_SCALE);
                let keep = self.level >= FULL_SCALE;
                *self = Self {
                    level: x,
                    run: if keep && self.run > 0 { self.run + 1 } else { 1 },
                    clipped: if keep { self.clipped } else { 0 },
                    runs: if keep { self.runs } else { 0 },
                    first,
                };
            } else if x == self.level || x >= FULL_SCALE {
                self.run += 1;
            } else if self.run > 0 {
                self.end_run(at);
            }
        }
    }

    fn end_run(&mut self, at: u64) {
        let need = if self.level >= FULL_SCALE { FULL_SCALE_RUN } else { FLAT_RUN };
        if self.run >= need {
            self.clipped += self.run;
            self.runs += 1;
            self.first = self.first.or(Some(at.saturating_sub(self.run)));
        }
        self.run = 0;
    }
}

/// The middle value (the upper one of two).
fn middle(values: impl Iterator<Item = f32>) -> Option<f64> {
    let mut sorted: Vec<f32> = values.collect();
    sorted.sort_by(f32::total_cmp);
    sorted.get(sorted.len() / 2).map(|v| f64::from(*v))
}

/// The sum in eight lanes, which the compiler keeps in vector registers.
pub(crate) fn lane_sum(part: &[f32]) -> f32 {
    let mut sums = [0f32; 8];
    let (chunks, rest) = part.as_chunks::<8>();
    for c in chunks {
        for i in 0..8 {
            sums[i] += c[i];
        }
    }
    sums.iter().chain(rest).sum()
}

/// Lowest and highest sample, (0, 0) of nothing.
fn extremes(part: &[f32]) -> (f32, f32) {
    let first = part.first().copied().unwrap_or(0.0);
    let (mut low, mut high) = ([first; 8], [first; 8]);
    let (chunks, rest) = part.as_chunks::<8>();
    for c in chunks {
        for i in 0..8 {
            low[i] = if c[i] < low[i] { c[i] } else { low[i] };
            high[i] = if c[i] > high[i] { c[i] } else { high[i] };
        }
    }
    let low = low.iter().chain(rest).fold(first, |a, b| a.min(*b));
    (low, high.iter().chain(rest).fold(first, |a, b| a.max(*b)))
}
