//! A bank of second-order band-pass filters that run side by side.

use crate::tuning::transient::HIGHEST_SHARE;
use crate::wide::{fuses, wide};

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
        let warp = |hz: f64| (std::f64::consts::PI * (hz / rate).min(HIGHEST_SHARE)).tan();
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
        if fuses() {
            wide(
                #[inline(always)]
                || self.filter::<true>(samples, peaks),
            );
        } else {
            wide(
                #[inline(always)]
                || self.filter::<false>(samples, peaks),
            );
        }
    }

    /// Every output waits for the one before it; `FUSED`, multiplying and adding in one step, halves the wait.
    #[inline(always)]
    fn filter<const FUSED: bool>(&mut self, samples: &[f32], peaks: &mut Lanes) {
        let less = |a: f32, b: f32, from: f32| if FUSED { (-a).mul_add(b, from) } else { from - a * b };
        let Self { gain, a1, a2, x: [mut x1, mut x2], y: [mut y1, mut y2] } = *self;
        let mut top = *peaks;
        // The direct form: the newest output enters by one product only, which keeps the chain of waits short.
        for x in samples {
            let step = x - x2;
            let mut y = [0.0; LANES];
            for i in 0..LANES {
                y[i] = less(a1[i], y1[i], less(a2[i], y2[i], gain[i] * step));
                let size = y[i].abs();
                top[i] = if size > top[i] { size } else { top[i] };
            }
            (x2, x1, y2, y1) = (x1, *x, y1, y);
        }
        // Outputs that have died away to nothing would slow the arithmetic down.
        let alive = |y: Lanes| y.map(|y| if y.abs() < 1e-25 { 0.0 } else { y });
        (self.x, self.y, *peaks) = ([x1, x2], [alive(y1), alive(y2)], top);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_processor_filters_alike() {
        let clicks: Vec<f32> = (0..4_000).map(|i| if i % 700 == 3 { 0.8 } else { 0.0 }).collect();
        let mut one = Bank::new(&[160.0, 640.0, 1_280.0, 2_560.0, 5_120.0, 10_000.0], 22_050.0);
        let mut other = one.clone();
        for (k, piece) in clicks.chunks(55).enumerate() {
            let (mut a, mut b) = ([0.0; LANES], [0.0; LANES]);
            one.filter::<true>(piece, &mut a);
            other.filter::<false>(piece, &mut b);
            for (a, b) in a.iter().zip(&b) {
                assert!((a - b).abs() < 1e-6 + 1e-5 * b, "piece {k}: {a} {b}");
            }
        }
    }

    #[test]
    fn a_band_passes_its_middle_whole_and_its_edges_3_db_down() {
        // Second-order band-pass: gain 1 at the centre, 1/sqrt(2) at both edges (Oppenheim & Schafer, Discrete-Time
        // Signal Processing, section 7.1: the bilinear transform keeps the gains of the edges it was warped for).
        let (rate, edges) = (44_100.0, [160.0, 640.0, 1_280.0, 2_560.0, 5_120.0, 10_000.0]);
        let peaks = |hz: f64| {
            let tone: Vec<f32> =
                (0..44_100).map(|i| (std::f64::consts::TAU * hz * f64::from(i) / rate).sin() as f32).collect();
            let mut bank = Bank::new(&edges, rate);
            bank.run(&tone[..22_050], &mut [0.0; LANES]);
            let mut peaks = [0.0; LANES];
            bank.run(&tone[22_050..], &mut peaks);
            peaks
        };
        let warped = |hz: f64| (std::f64::consts::PI * hz / rate).tan();
        for (b, edge) in edges.windows(2).enumerate() {
            let centre = (warped(edge[0]) * warped(edge[1])).sqrt().atan() * rate / std::f64::consts::PI;
            for (hz, gain) in [(edge[0], 0.5f32.sqrt()), (centre, 1.0), (edge[1], 0.5f32.sqrt())] {
                let heard = peaks(hz)[b];
                assert!((heard - gain).abs() < 0.01, "band {b} at {hz:.0} Hz: {heard}, not {gain}");
            }
        }
        assert!(peaks(1_000.0)[5..].iter().all(|p| *p == 0.0), "filters without a band are silent");
    }
}
