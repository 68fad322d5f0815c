//! Levels counted in steps of half a decibel: percentiles of any length of recording in a few kilobytes.

/// Lowest level told apart, dB; everything below counts as this.
const FLOOR_DB: f64 = -200.0;
const STEP_DB: f64 = 0.5;
const STEPS: usize = 560;

#[derive(Debug, Clone)]
pub(crate) struct LevelHistogram {
    counts: Vec<u32>,
    n: u64,
}

impl LevelHistogram {
    pub(crate) fn new() -> Self {
        Self { counts: vec![0; STEPS], n: 0 }
    }

    /// Counts a level given as power (mean square).
    pub(crate) fn add_power(&mut self, power: f64) {
        let step = ((db_of_power(power) - FLOOR_DB) / STEP_DB) as usize;
        let slot = &mut self.counts[step.min(STEPS - 1)];
        *slot = slot.saturating_add(1);
        self.n += 1;
    }

    pub(crate) fn len(&self) -> u64 {
        self.n
    }

    /// The level that the share `q` (0 to 1) of all lies at or below, dB; `None` of nothing.
    pub(crate) fn quantile_db(&self, q: f64) -> Option<f64> {
        let rank = (q * self.n.checked_sub(1)? as f64).round() as u64;
        let mut below = 0;
        for (i, c) in self.counts.iter().enumerate() {
            below += u64::from(*c);
            if below > rank {
                return Some(FLOOR_DB + (i as f64 + 0.5) * STEP_DB);
            }
        }
        None
    }

    /// How many lie above a level.
    pub(crate) fn above_db(&self, db: f64) -> u64 {
        let first = (((db - FLOOR_DB) / STEP_DB).ceil().max(0.0) as usize).min(STEPS);
        self.counts[first..].iter().map(|c| u64::from(*c)).sum()
    }
}

/// Decibels of a mean square; the floor for 0.
pub(crate) fn db_of_power(power: f64) -> f64 {
    (10.0 * power.max(1e-20).log10()).max(FLOOR_DB)
}

/// The reverse.
pub(crate) fn power_of_db(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}
