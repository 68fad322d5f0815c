//! A bank of second-order band-pass filters that run side by side.

/// Filters in a bank; a multiple of the vector width.
pub(crate) const LANES: usize = 8;

/// One value a band.
pub(crate) type Lanes = [f32; LANES];

/// Band-pass filters of one pole pair each, by the bilinear transform.
#[derive(Debug, Clone)]
pub(crate) struct Bank {
    gain: Lanes,
    a1: Lanes,
    a2: Lanes,
    /// The last two inputs and outputs.
    x: [f32; 2],
    y: [Lanes; 2],
}

impl Bank {
    /// Bands between neighbouring `edges` (Hz, at most [`LANES`] + 1, rising); those above the Nyquist frequency stay
    /// silent.
    pub(crate) fn new(edges: &[f64], rate: f64) -> Self {
        let zero = [0.0; LANES];
        let mut f = Self { gain: zero, a1: zero, a2: zero, x: [0.0; 2], y: [zero; 2] };
        let warp = |hz: f64| (std::f64::consts::PI * (hz / rate).min(0.48)).tan();
        for (b, edge) in edges.windows(2).take(LANES).enumerate() {
            let (low, high) = (warp(edge[0]), warp(edge[1]));
            if high <= low {
                continue;
            }
            let (width, centre) = (high - low, low * high);
            let norm = 1.0 / (1.0 + width + centre);
            f.gain[b] = (width * norm) as f32;
            f.a1[b] = (2.0 * (centre - 1.0) * norm) as f32;
            f.a2[b] = ((1.0 - width + centre) * norm) as f32;
        }
        f
    }

    /// Raises `peaks` to the largest absolute output of each filter.
    pub(crate) fn run(&mut self, samples: &[f32], peaks: &mut Lanes) {
        let (gain, a1, a2) = (self.gain, self.a1, self.a2);
        let ([mut x1, mut x2], [mut y1, mut y2], mut top) = (self.x, self.y, *peaks);
        // The direct form: the newest output enters by one product only, which keeps the chain of waits short.
        for x in samples {
            let step = x - x2;
            let mut y = [0.0; LANES];
            for i in 0..LANES {
                y[i] = (gain[i] * step - a2[i] * y2[i]) - a1[i] * y1[i];
                let size = y[i].abs();
                top[i] = if size > top[i] { size } else { top[i] };
            }
            (x2, x1, y2, y1) = (x1, *x, y1, y);
        }
        // Outputs that have died away to nothing would slow the arithmetic down.
        for y in y1.iter_mut().chain(&mut y2) {
            if y.abs() < 1e-25 {
                *y = 0.0;
            }
        }
        (self.x, self.y, *peaks) = ([x1, x2], [y1, y2], top);
    }
}
