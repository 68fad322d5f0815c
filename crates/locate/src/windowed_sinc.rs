//! Low-pass filters between samples: a sinc under a Kaiser window (Kaiser 1974; Oppenheim & Schafer, section 7.5).

/// The filter at each of `places`, each 0 to 1 of the way from one sample to the next: 2 `half` coefficients for the `half`
/// samples before the place and those after it, with sum 1. `cutoff` is in shares of the Nyquist frequency, `beta` the
/// window's shape.
pub fn windowed_sinc(places: impl Iterator<Item = f64>, half: usize, cutoff: f64, beta: f64) -> Vec<f32> {
    let taps = 2 * half;
    let mut table = Vec::with_capacity(taps * places.size_hint().0);
    for place in places {
        let line: Vec<f64> = (0..taps)
            .map(|k| {
                let x = k as f64 - (half as f64 - 1.0) - place;
                let w = 1.0 - (x / half as f64).powi(2);
                if w <= 0.0 { 0.0 } else { sinc(cutoff * x) * bessel_i0(beta * w.sqrt()) }
            })
            .collect();
        let sum: f64 = line.iter().sum();
        table.extend(line.iter().map(|v| (v / sum) as f32));
    }
    table
}

fn sinc(x: f64) -> f64 {
    let x = std::f64::consts::PI * x;
    if x.abs() < 1e-9 { 1.0 } else { x.sin() / x }
}

/// The modified Bessel function of order 0, by its series (Abramowitz & Stegun 9.6.12).
pub(crate) fn bessel_i0(x: f64) -> f64 {
    let q = 0.25 * x * x;
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..40 {
        term *= q / f64::from(k * k);
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bessel_as_tabulated() {
        // Abramowitz & Stegun, table 9.8: I0(1) = 1.2660658778, I0(5) = 27.239871823.
        assert!((bessel_i0(1.0) - 1.266_065_877_8).abs() < 1e-9 && (bessel_i0(5.0) - 27.239_871_823).abs() < 1e-7);
    }

    #[test]
    fn on_a_sample_it_is_that_sample_alone_and_midway_it_is_even() {
        let (half, taps) = (8, 16);
        let table = windowed_sinc([0.0, 0.5].into_iter(), half, 1.0, 5.65);
        assert_eq!(table.len(), 2 * taps);
        let (on, midway) = table.split_at(taps);
        assert!(on.iter().enumerate().all(|(k, v)| (v - f32::from(k == half - 1)).abs() < 1e-6), "{on:?}");
        assert!((0..half).all(|k| (midway[k] - midway[taps - 1 - k]).abs() < 1e-6), "{midway:?}");
        assert!((midway.iter().sum::<f32>() - 1.0).abs() < 1e-6);
    }
}
