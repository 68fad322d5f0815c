//! What a sound's own past does not predict.
//!
//! Linear prediction by Burg's recursion (J. P. Burg, Maximum entropy spectral analysis, 1975): stable for any input, and
//! good on stretches of a few periods.

/// Samples at the beginning of a stretch that are not learnt from: the low-pass before it has not settled.
const UNSETTLED: usize = 10;
/// Keeps the recursion away from a division by nothing: this share of the power, and this power.
const FLOOR_SHARE: f32 = 1e-6;
const FLOOR: f32 = 1e-12;
/// Errors of prediction below this power count as this.
const LEAST_ERROR: f32 = 1e-9;

/// Buffers, kept from one stretch to the next.
#[derive(Debug, Default, Clone)]
pub(crate) struct Predictor {
    forward: Vec<f32>,
    backward: Vec<f32>,
    coefficients: Vec<f32>,
    mirrored: Vec<f32>,
}

impl Predictor {
    /// Writes to `errors`, sample by sample of `x`, what the samples before do not predict, over its usual size; learnt
    /// from the samples before `until`.
    #[inline(always)]
    pub(crate) fn errors(&mut self, x: &[f32], until: usize, order: usize, errors: &mut Vec<f32>) {
        let until = until.min(x.len());
        self.burg(&x[UNSETTLED.min(until)..until], order);
        errors.clear();
        errors.resize(x.len(), 0.0);
        // The first `order` samples have zeros for a past.
        for t in 0..order.min(x.len()) {
            errors[t] = (0..=t).map(|k| self.coefficients[k] * x[t - k]).sum();
        }
        let (blocks, rest) = errors[order.min(x.len())..].as_chunks_mut::<16>();
        let done = order + 16 * blocks.len();
        for (m, out) in blocks.iter_mut().enumerate() {
            let mut sums = [0.0f32; 16];
            for (k, a) in self.coefficients.iter().enumerate() {
                let Some(line) = x[16 * m + order - k..].first_chunk::<16>() else { break };
                for i in 0..16 {
                    sums[i] += a * line[i];
                }
            }
            *out = sums;
        }
        for (m, e) in rest.iter_mut().enumerate() {
            *e = (0..=order).map(|k| self.coefficients[k] * x[done + m - k]).sum();
        }
        let learnt = errors.get(UNSETTLED + order..until).unwrap_or_default();
        let mut logs = 0.0;
        for e in learnt {
            logs += crate::log::ln(e * e + LEAST_ERROR);
        }
        let scale = (-0.5 * logs / learnt.len().max(1) as f32).exp();
        for e in errors.iter_mut() {
            *e *= scale;
        }
    }

    /// The coefficients of the prediction of `x`, the first being 1.
    #[inline(always)]
    fn burg(&mut self, x: &[f32], order: usize) {
        let Self { forward, backward, coefficients, mirrored } = self;
        forward.clear();
        forward.extend_from_slice(x);
        backward.clear();
        backward.extend_from_slice(x);
        coefficients.clear();
        coefficients.push(1.0);
        let floor = FLOOR_SHARE * sums(x, x).0 + FLOOR;
        for m in 1..=order {
            // Forward errors lose their first, backward errors their last at each step: f[i] stands for sample i + m.
            let n = x.len().saturating_sub(m);
            let f = &mut forward[m.min(x.len())..];
            let b = &mut backward[..n];
            let (cross, power) = sums(f, b);
            let k = -2.0 * cross / (power + floor);
            let n = f.len().min(b.len());
            let (f, b) = (&mut f[..n], &mut b[..n]);
            for i in 0..n {
                let was = f[i];
                f[i] += k * b[i];
                b[i] += k * was;
            }
            coefficients.push(0.0);
            mirrored.clear();
            mirrored.extend(coefficients.iter().rev());
            coefficients.iter_mut().zip(mirrored.iter()).for_each(|(a, r)| *a += k * r);
        }
    }
}

/// (sum of f b, sum of f f + b b), in running sums that vectorise.
#[inline(always)]
fn sums(f: &[f32], b: &[f32]) -> (f32, f32) {
    let (mut cross, mut power) = ([0.0f32; 16], [0.0f32; 16]);
    let ((fs, f_rest), (bs, b_rest)) = (f.as_chunks::<16>(), b.as_chunks::<16>());
    for (f, b) in fs.iter().zip(bs) {
        for i in 0..16 {
            cross[i] += f[i] * b[i];
            power[i] += f[i] * f[i] + b[i] * b[i];
        }
    }
    for (i, (f, b)) in f_rest.iter().zip(b_rest).enumerate() {
        cross[i] += f * b;
        power[i] += f * f + b * b;
    }
    (cross.iter().sum(), power.iter().sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_tones_are_predicted_and_a_third_is_not() {
        let tone = |f: f32, i: usize| (f * i as f32).sin();
        let x: Vec<f32> = (0..900)
            .map(|i| tone(0.3, i) + 0.5 * tone(0.8, i) + if i < 600 { 0.0 } else { 0.2 * tone(1.7, i) })
            .collect();
        let mut errors = Vec::new();
        Predictor::default().errors(&x, 550, 20, &mut errors);
        assert_eq!(errors.len(), x.len());
        let loudest = |from: usize, to: usize| errors[from..to].iter().fold(0.0f32, |m, e| m.max(e.abs()));
        assert!(loudest(100, 600) < 40.0 && loudest(600, 640) > 400.0, "{} {}", loudest(100, 600), loudest(600, 640));
    }

    /// A first-order process with a known coefficient: x[n] = 0.9 x[n - 1] + e (Kay, Modern Spectral Estimation, 1988,
    /// section 7: Burg's estimate of it is -0.9 within its standard error of sqrt((1 - 0.81) / n)).
    #[test]
    fn the_coefficient_of_a_known_process() {
        use rand::{RngExt, SeedableRng};
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        let mut x = vec![0.0f32];
        for i in 0..20_000 {
            let e: f32 = (0..12).map(|_| rng.random::<f32>()).sum::<f32>() - 6.0;
            x.push(0.9 * x[i] + e);
        }
        let mut p = Predictor::default();
        p.burg(&x, 1);
        assert!((p.coefficients[1] + 0.9).abs() < 0.01, "{:?}", p.coefficients);
    }

    #[test]
    fn nothing_to_learn_from_is_no_error() {
        for (x, until) in [(&[][..], 0), (&[0.0; 40][..], 40), (&[0.0; 5][..], 90), (&[1.0; 300][..], 200)] {
            let mut errors = Vec::new();
            Predictor::default().errors(x, until, 20, &mut errors);
            assert!(errors.len() == x.len() && errors.iter().all(|e| e.is_finite()), "{x:?}");
        }
    }
}
