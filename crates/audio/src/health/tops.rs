//! Flat tops of the waveform: clipping, at full scale or below it.

/// Samples in a row at the top before they count as clipped: two at full scale, four equal ones at a lower flat top.
/// A sine of 500 Hz at 44.1 kHz in 16 bits has at most three equal samples at its top.
const FULL_SCALE_RUN: u64 = 2;
const FLAT_RUN: u64 = 4;
/// Full scale of 16-bit samples is 32767/32768 upward.
const FULL_SCALE: f32 = 0.999_9;

/// Flat tops on one side of the waveform, at the highest level so far.
#[derive(Debug, Clone, Copy, Default)]
struct Top {
    level: f32,
    run: u64,
    clipped: u64,
    runs: u64,
    first: Option<u64>,
}

/// What was found about clipping.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Clipping {
    pub(crate) samples: u64,
    pub(crate) runs: u64,
    pub(crate) first: Option<u64>,
}

/// The flat tops of both sides of the waveform, upper and lower.
#[derive(Debug, Default)]
pub(crate) struct Tops {
    sides: [Top; 2],
}

impl Tops {
    /// The next samples, which begin at frame `at`, with their lowest and highest.
    pub(super) fn scan(&mut self, part: &[f32], low: f32, high: f32, at: u64) {
        // Only where this part comes up to the highest so far can it hold a flat top of it.
        if high > 0.0 && high >= self.sides[0].level.min(FULL_SCALE) {
            self.sides[0].scan(part.iter().copied(), at);
        } else {
            self.sides[0].end_run(at);
        }
        if low < 0.0 && -low >= self.sides[1].level.min(FULL_SCALE) {
            self.sides[1].scan(part.iter().map(|x| -x), at);
        } else {
            self.sides[1].end_run(at);
        }
    }

    /// Ends what lies flat at the take's end.
    pub(super) fn finish(&mut self, seen: u64) {
        for top in &mut self.sides {
            top.end_run(seen);
        }
    }

    pub(crate) fn clipping(&self) -> Clipping {
        let loudest = self.sides[0].level.max(self.sides[1].level);
        let mut all = Clipping::default();
        for top in &self.sides {
            // One flat top may be chance, and one side's may be the shape of a wave that is far from full.
            if top.runs >= 2 && top.level > 0.5 * loudest || top.level >= FULL_SCALE {
                all.samples += top.clipped;
                all.runs += top.runs;
                all.first = [all.first, top.first].into_iter().flatten().min();
            }
        }
        all
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
