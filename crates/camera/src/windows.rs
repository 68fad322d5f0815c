//! Waveform against waveform in one window: the generalised cross-correlation with a partly whitened spectrum (Knapp &
//! Carter 1976, IEEE Trans. ASSP 24:320), and of it the envelope (its Hilbert transform's modulus), which neither the
//! polarity of a microphone nor a turn of phase moves.

use crate::narrow::{Narrow, RATE_HZ};
use std::sync::Arc;
use takegauge_fourier::{Complex32, ComplexToReal, RealToComplex, forward, inverse};

/// Lags to each side of the place looked at, samples: 32 ms.
pub const REACH: usize = 256;
/// Samples of a window: about a second, or half of it for short sounds.
pub const WINDOW: usize = 8_192;
/// The band that is compared, Hz.
const BAND_HZ: (f64, f64) = (280.0, 3_500.0);
/// How far the magnitudes are flattened: 0 is plain correlation, 1 the phase transform.
const WHITENING: f32 = 0.75;
/// A window is silent that is quieter than its sound as a whole by so much: 30 dB in power.
pub(crate) const SILENT: f64 = 1e-3;

/// Compares windows of one length.
pub struct Comparer {
    len: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    taper: Vec<f32>,
}

/// What one window says.
#[derive(Debug, Clone)]
pub struct Seen {
    /// Middle of the window in the take, samples.
    pub middle: i64,
    /// The sample of the film that was looked around.
    pub place: i64,
    /// Likeness at lags -[`REACH`] to +[`REACH`] samples around the place looked at, 0 to 1.
    pub likeness: Vec<f32>,
}

impl Comparer {
    /// For windows of `len` samples.
    pub fn new(len: usize) -> Self {
        let size = (len + 2 * REACH).next_power_of_two();
        let taper =
            (0..len).map(|k| 0.5 - 0.5 * (std::f32::consts::TAU * (k as f32 + 0.5) / len as f32).cos()).collect();
        Self { len, forward: forward(size), inverse: inverse(size), taper }
    }

    /// Compares the take's window with its middle at sample `middle` and the film around sample `place`. `None` where
    /// either is silent: quieter than `floors` (mean squares of take and film).
    pub fn compare(&self, take: &Narrow, middle: i64, film: &Narrow, place: i64, floors: [f64; 2]) -> Option<Seen> {
        let half = (self.len / 2) as i64;
        let (mut x, mut y) = (self.forward.make_input_vec(), self.forward.make_input_vec());
        take.read(middle - half, &mut x[..self.len]);
        film.read(place - half - REACH as i64, &mut y[..self.len + 2 * REACH]);
        let power = |s: &[f32]| s.iter().map(|v| f64::from(*v) * f64::from(*v)).sum::<f64>() / self.len as f64;
        if power(&x[..self.len]) <= floors[0] || power(&y[REACH..REACH + self.len]) <= floors[1] {
            return None;
        }
        x.iter_mut().zip(&self.taper).for_each(|(v, t)| *v *= t);
        let (mut a, mut b) = (self.forward.make_output_vec(), self.forward.make_output_vec());
        self.forward.process(&mut x, &mut a).ok()?;
        self.forward.process(&mut y, &mut b).ok()?;
        let size = x.len();
        let bin = |hz: f64| (hz * size as f64 / f64::from(RATE_HZ)) as usize;
        let (low, high) = (bin(BAND_HZ.0), bin(BAND_HZ.1).min(size / 2 - 1));
        let mut whole = 0.0;
        for k in 0..a.len() {
            let cross = a[k].conj() * b[k];
            let size = cross.norm();
            a[k] = if (low..=high).contains(&k) && size > 0.0 {
                cross * size.powf(-WHITENING)
            } else {
                Complex32::default()
            };
            whole += a[k].norm();
            // A quarter turn of every partial.
            b[k] = Complex32::new(a[k].im, -a[k].re);
        }
        self.inverse.process(&mut a, &mut x).ok()?;
        self.inverse.process(&mut b, &mut y).ok()?;
        // Lag 0 is where the film's window begins REACH samples before the take's.
        let likeness = (0..=2 * REACH).map(|k| x[k].hypot(y[k]) / (2.0 * whole).max(f32::MIN_POSITIVE)).collect();
        Some(Seen { middle, place, likeness })
    }
}
