//! Onset strength in bands, whitened along time: what two recordings of one playing share, whatever lies between.

use crate::narrow::{Narrow, RATE_HZ};

/// Samples a step: 5 ms.
pub const HOP: usize = 40;
/// Samples of a spectrum: 16 ms.
const FRAME: usize = 128;
/// Bands, evenly on a logarithmic scale within what a telephone passes.
pub const BANDS: usize = 6;
const EDGES_HZ: (f64, f64) = (250.0, 3_500.0);
/// Steps over which a band rises.
const RISE: usize = 2;
/// The mean and the spread are taken out over so many steps to each side: 0.5 s.
const AROUND: usize = 100;
/// What is quieter than a band's mean by so much counts as silence: 20 dB.
const FLOOR: f32 = 0.01;

/// Onset strength, a row a band, a column a step of [`HOP`] samples; mean 0 and spread about 1 where there is sound.
#[derive(Debug, Clone)]
pub struct Envelope {
    bands: Vec<Vec<f32>>,
}

impl Envelope {
    /// Of a whole sound.
    pub fn of(sound: &Narrow) -> Self {
        let mut powers = powers(sound);
        powers.iter_mut().for_each(|band| onsets(band));
        Self { bands: powers }
    }

    /// Steps.
    pub fn len(&self) -> usize {
        self.bands.first().map_or(0, Vec::len)
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The rows.
    pub fn bands(&self) -> &[Vec<f32>] {
        &self.bands
    }
}

fn powers(sound: &Narrow) -> Vec<Vec<f32>> {
    let fft = takegauge_fourier::forward(FRAME);
    let (mut frame, mut spectrum, mut scratch) = (fft.make_input_vec(), fft.make_output_vec(), fft.make_scratch_vec());
    let window: Vec<f32> =
        (0..FRAME).map(|k| 0.5 - 0.5 * (std::f32::consts::TAU * (k as f32 + 0.5) / FRAME as f32).cos()).collect();
    let bin_hz = f64::from(RATE_HZ) / FRAME as f64;
    let ratio = EDGES_HZ.1 / EDGES_HZ.0;
    let edges: Vec<usize> =
        (0..=BANDS).map(|b| (EDGES_HZ.0 * ratio.powf(b as f64 / BANDS as f64) / bin_hz).round() as usize).collect();
    let steps = sound.len() / HOP;
    let mut bands: Vec<Vec<f32>> = (0..BANDS).map(|_| Vec::with_capacity(steps)).collect();
    for step in 0..steps {
        // The middle of the frame is the place of the step.
        sound.read((step * HOP) as i64 - (FRAME / 2) as i64, &mut frame);
        frame.iter_mut().zip(&window).for_each(|(x, w)| *x *= w);
        let done = fft.process_with_scratch(&mut frame, &mut spectrum, &mut scratch).is_ok();
        for (band, edge) in bands.iter_mut().zip(edges.windows(2)) {
            let power =
                spectrum.get(edge[0]..edge[1].max(edge[0] + 1)).map_or(0.0, |s| s.iter().map(|c| c.norm_sqr()).sum());
            band.push(if done { power } else { 0.0 });
        }
    }
    bands
}

/// Powers become rises in loudness, less their mean and over their spread nearby.
fn onsets(band: &mut [f32]) {
    let n = band.len();
    let mean = band.iter().map(|p| f64::from(*p)).sum::<f64>() / n.max(1) as f64;
    if mean <= 0.0 {
        return band.fill(0.0);
    }
    let floor = FLOOR * mean as f32;
    band.iter_mut().for_each(|p| *p = (*p + floor).ln());
    for t in (RISE..n).rev() {
        band[t] = (band[t] - band[t - RISE]).max(0.0);
    }
    band[..RISE.min(n)].fill(0.0);
    let sums = |f: &dyn Fn(f32) -> f64| -> Vec<f64> {
        let mut sum = 0.0;
        std::iter::once(0.0)
            .chain(band.iter().map(|x| {
                sum += f(*x);
                sum
            }))
            .collect()
    };
    let (first, second) = (sums(&f64::from), sums(&|x| f64::from(x) * f64::from(x)));
    let whole = (second[n] / n.max(1) as f64).sqrt();
    for (t, x) in band.iter_mut().enumerate() {
        let (a, b) = (t.saturating_sub(AROUND), (t + AROUND + 1).min(n));
        let m = (first[b] - first[a]) / (b - a) as f64;
        let v = ((second[b] - second[a]) / (b - a) as f64 - m * m).max(0.0);
        // A pause is not blown up to the size of playing.
        *x = ((f64::from(*x) - m) / (v.sqrt() + 0.3 * whole).max(1e-9)) as f32;
    }
}
