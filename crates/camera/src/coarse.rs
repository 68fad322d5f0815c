//! Where a piece of one sound may lie in the other: the likeliest places by correlation of onset strength.

use crate::envelope::Envelope;
use takegauge_fourier::Complex32;

/// A place: steps of the long sound at which the piece begins (below 0 where its start is missing), and the
/// correlation there, at most 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// In steps of [`crate::envelope::HOP`] samples.
    pub at: i64,
    /// Correlation over what both have.
    pub fit: f32,
}

/// Two places are told apart from so many steps on: 20 ms.
const APART: usize = 4;

/// The best `most` places of steps `from..from + len` of `piece` within `long`, best first, at each of which at least
/// `least` steps lie in both.
pub fn places(piece: &Envelope, from: usize, len: usize, long: &Envelope, least: usize, most: usize) -> Vec<Place> {
    let end = (from + len).min(piece.len());
    let len = end.saturating_sub(from);
    if len < least || long.len() < least || least == 0 {
        return Vec::new();
    }
    let size = (long.len() + len).next_power_of_two();
    let (forward, inverse) = (takegauge_fourier::forward(size), takegauge_fourier::inverse(size));
    let mut sum = vec![Complex32::default(); size / 2 + 1];
    let (mut a, mut b) = (forward.make_output_vec(), forward.make_output_vec());
    let mut scratch = forward.make_scratch_vec();
    let mut transform = |x: &[f32], out: &mut [Complex32]| {
        let mut padded = vec![0.0; size];
        padded[..x.len()].copy_from_slice(x);
        // The lengths are the plan's own.
        let _ = forward.process_with_scratch(&mut padded, out, &mut scratch);
    };
    for (p, l) in piece.bands().iter().zip(long.bands()) {
        transform(&p[from..end], &mut a);
        transform(l, &mut b);
        sum.iter_mut().zip(a.iter().zip(&b)).for_each(|(s, (a, b))| *s += a.conj() * b);
    }
    drop((a, b));
    let mut product = inverse.make_output_vec();
    // A real signal's spectrum is real at both ends; rounding must not say otherwise.
    for end in [0, size / 2] {
        sum[end].im = 0.0;
    }
    if inverse.process(&mut sum, &mut product).is_err() {
        return Vec::new();
    }
    let (e_piece, e_long) = (energies(piece, from, end), energies(long, 0, long.len()));
    let fit = |at: i64| -> f32 {
        let (lo, hi) = (at.max(0), (at + len as i64).min(long.len() as i64));
        if hi - lo < least as i64 {
            return f32::MIN;
        }
        let own = e_piece[(hi - at) as usize] - e_piece[(lo - at) as usize];
        let other = e_long[hi as usize] - e_long[lo as usize];
        let index = if at < 0 { size as i64 + at } else { at } as usize;
        // What covers less of the piece has to fit better.
        let covered = (hi - lo) as f64 / len as f64;
        (f64::from(product[index]) / size as f64 / (own * other).sqrt().max(1e-9) * covered.powf(0.25)) as f32
    };
    let first = least as i64 - len as i64;
    let fits: Vec<f32> = (first..=long.len() as i64 - least as i64).map(fit).collect();
    peaks(&fits, most).into_iter().map(|k| Place { at: first + k as i64, fit: fits[k] }).collect()
}

/// Sums of squares over all bands up to each step.
fn energies(e: &Envelope, from: usize, to: usize) -> Vec<f64> {
    let mut sum = 0.0;
    let squares = (from..to).map(|t| e.bands().iter().map(|b| f64::from(b[t]) * f64::from(b[t])).sum::<f64>());
    std::iter::once(0.0)
        .chain(squares.map(|s| {
            sum += s;
            sum
        }))
        .collect()
}

/// The highest local maxima, highest first.
fn peaks(values: &[f32], most: usize) -> Vec<usize> {
    let mut found: Vec<usize> = (0..values.len())
        .filter(|&i| {
            let around = &values[i.saturating_sub(APART)..(i + APART + 1).min(values.len())];
            values[i] > 0.0 && around.iter().all(|v| *v <= values[i])
        })
        .collect();
    found.sort_by(|a, b| values[*b].total_cmp(&values[*a]).then(a.cmp(b)));
    found.truncate(most);
    found
}
