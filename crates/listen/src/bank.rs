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
    s1: Lanes,
    s2: Lanes,
}

impl Bank {
    /// Bands between neighbouring `edges` (Hz, at most [`LANES`] + 1, rising); those above the Nyquist frequency stay
    /// silent.
    pub(crate) fn new(edges: &[f64], rate: f64) -> Self {
        let zero = [0.0; LANES];
        let mut f = Self { gain: zero, a1: zero, a2: zero, s1: zero, s2: zero };
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
        let (mut s1, mut s2, mut top) = (self.s1, self.s2, *peaks);
        for x in samples {
            for i in 0..LANES {
                let y = gain[i] * x + s1[i];
                s1[i] = s2[i] - a1[i] * y;
                s2[i] = -gain[i] * x - a2[i] * y;
                top[i] = top[i].max(y.abs());
            }
        }
        // States that have died away to nothing would slow the arithmetic down.
        for s in s1.iter_mut().chain(&mut s2) {
            if s.abs() < 1e-25 {
                *s = 0.0;
            }
        }
        (self.s1, self.s2, *peaks) = (s1, s2, top);
    }
}
