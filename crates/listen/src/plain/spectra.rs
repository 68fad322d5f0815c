//! Windows and magnitudes.

/// Frames of magnitudes or of bands.
pub type Frames = Vec<Vec<f64>>;

/// A Hann window of `length` samples: sin^2 at `first`, `first` + 1, ... of a `period`. The usual forms are
/// (n, n, 0), periodic, and (n, n - 1, 0), symmetric with zeros at both ends (Harris 1978, equation 27).
pub fn hann(length: usize, period: usize, first: f64) -> Vec<f64> {
    let turn = std::f64::consts::TAU / period.max(1) as f64;
    (0..length).map(|k| 0.5 - 0.5 * (turn * (k as f64 + first)).cos()).collect()
}

/// Magnitudes of `frames` windowed Fourier transforms, `window.len() / 2 + 1` bins each; `hop` in samples, need not be
/// whole.
pub fn spectrogram(samples: &[f32], window: &[f64], hop: f64, frames: usize) -> Frames {
    let n = window.len();
    let fft = takegauge_fourier::forward(n);
    let mut bins = fft.make_output_vec();
    (0..frames)
        .map(|frame| {
            let start = (frame as f64 * hop - n as f64 / 2.0) as i64;
            let at = |k: usize| usize::try_from(start + k as i64).ok().and_then(|i| samples.get(i));
            let mut time: Vec<f32> =
                window.iter().enumerate().map(|(k, w)| *w as f32 * at(k).copied().unwrap_or(0.0)).collect();
            // The lengths are the plan's own, so it refuses none.
            let _ = fft.process(&mut time, &mut bins);
            bins.iter().map(|z| f64::from(z.norm())).collect()
        })
        .collect()
}
