//! Sums and extremes of a short stretch of samples, eight lanes wide.

/// A stretch of samples, boiled down.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Cell {
    pub(super) n: usize,
    pub(super) sum: f64,
    pub(super) squares: f64,
    pub(super) min: f32,
    pub(super) max: f32,
    /// The last sample that is not 0.
    pub(super) last: f32,
}

impl Cell {
    pub(super) fn add(&mut self, part: &[f32], low: f32, high: f32) {
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

    pub(super) fn join(&mut self, other: &Cell) {
        self.min = if self.n == 0 { other.min } else { self.min.min(other.min) };
        self.max = if self.n == 0 { other.max } else { self.max.max(other.max) };
        self.n += other.n;
        self.sum += other.sum;
        self.squares += other.squares;
    }

    /// Digital silence: every sample is 0.
    pub(super) fn silent(&self) -> bool {
        self.max == 0.0 && self.min == 0.0
    }
}

/// The sum in eight lanes, which the compiler keeps in vector registers.
pub(super) fn lane_sum(part: &[f32]) -> f32 {
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
pub(super) fn extremes(part: &[f32]) -> (f32, f32) {
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
