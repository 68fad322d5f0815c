//! Level and offset, from the samples in cells of 10 ms; flat tops and cuts are watched for on the way.

use super::cell::{Cell, extremes};
use super::cuts::Cuts;
use super::histogram::{LevelHistogram, db_of_power};
use super::tops::Tops;
use takegauge_stats::robust::upper_median;

/// Cells that join to one of 50 ms, for levels.
const JOINED: usize = 5;
/// Below this a cell says nothing of a waveform's shape, dBFS.
const SOUNDING_DB: f64 = -60.0;
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
    pub(crate) tops: Tops,
    pub(crate) cuts: Cuts,
    pub(crate) cells: u64,
}

/// What is kept of a 50 ms cell.
#[derive(Debug, Clone, Copy)]
struct Shape {
    level_db: f32,
    crest_db: f32,
    mean: f32,
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
            tops: Tops::default(),
            cuts: Cuts::default(),
            cells: 0,
        }
    }

    pub(crate) fn push(&mut self, mut block: &[f32]) {
        while !block.is_empty() {
            let n = block.len().min(self.cell_len - self.cell.n);
            let (part, rest) = block.split_at(n);
            let (low, high) = extremes(part);
            self.cell.add(part, low, high);
            self.tops.scan(part, low, high, self.seen);
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
        self.tops.finish(self.seen);
    }

    fn close_cell(&mut self) {
        let cell = std::mem::take(&mut self.cell);
        self.sum += cell.sum;
        self.squares += cell.squares;
        self.peak = self.peak.max(cell.max.max(-cell.min));
        self.cells += 1;
        self.cuts.watch(&cell, self.seen);
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
        if cell.silent() {
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

    /// The constant offset, as a share of full scale.
    pub(crate) fn offset(&self) -> f64 {
        let mut cells = self.kept.clone();
        cells.sort_by(|a, b| a.level_db.total_cmp(&b.level_db));
        cells.truncate(cells.len().div_ceil(QUIET_ONE_IN));
        upper_median(cells.iter().map(|c| f64::from(c.mean))).unwrap_or(0.0)
    }

    /// Median peak-to-rms ratio of the louder half of the sounding cells, dB.
    pub(crate) fn crest_db(&self) -> Option<f64> {
        let sounding = || self.kept.iter().filter(|c| f64::from(c.level_db) > SOUNDING_DB);
        let half = upper_median(sounding().map(|c| f64::from(c.level_db)))?;
        upper_median(sounding().filter(|c| f64::from(c.level_db) >= half).map(|c| f64::from(c.crest_db)))
    }

    /// Share of the sounding cells that come within 1 dB of the highest peak.
    pub(crate) fn near_peak_share(&self) -> f64 {
        let peak_db = 20.0 * f64::from(self.peak).max(1e-10).log10();
        self.peaks.above_db(peak_db - 1.0) as f64 / self.peaks.len().max(1) as f64
    }
}
