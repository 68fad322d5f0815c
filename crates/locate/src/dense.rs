//! Rows of a sound or of features times a matrix: what filters in frames and convolutions over frames come down to.

use fearless_simd::{Simd, SimdBase, SimdFloat, f32x8};

/// Which inputs an output row is made of: `parts` stretches of `length` values, the first of row t at `start + t *
/// stride`, each next one `jump` further.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rows {
    pub start: usize,
    pub stride: usize,
    pub jump: usize,
    pub parts: usize,
    pub length: usize,
}

impl Rows {
    /// Values that `count` rows reach over.
    fn end(self, count: usize) -> usize {
        self.start + count.saturating_sub(1) * self.stride + self.parts.saturating_sub(1) * self.jump + self.length
    }
}

/// Row by row the inputs times `weights` (inputs x 8 `V`) plus `bias`, in place of what was in `out`. Rows that reach
/// beyond `x` are left out. `B` rows are worked on at a time, which hides the wait for each sum behind the others.
#[inline(always)]
pub(crate) fn dense<S: Simd, const V: usize, const B: usize>(
    simd: S,
    x: &[f32],
    rows: Rows,
    count: usize,
    weights: &[f32],
    bias: &[f32],
    out: &mut Vec<f32>,
) {
    out.clear();
    if rows.end(count) > x.len() || weights.len() != rows.parts * rows.length * 8 * V {
        return;
    }
    out.resize(count * 8 * V, 0.0);
    let weights = weights.as_chunks::<8>().0;
    let mut start = [f32x8::splat(simd, 0.0); V];
    for (s, b) in start.iter_mut().zip(bias.as_chunks::<8>().0) {
        *s = f32x8::load_array_ref(simd, b);
    }
    let blocks = count / B;
    for t in 0..blocks {
        block::<S, V, B>(simd, &x[rows.start + t * B * rows.stride..], rows, weights, start, &mut out[t * B * 8 * V..]);
    }
    for t in blocks * B..count {
        block::<S, V, 1>(simd, &x[rows.start + t * rows.stride..], rows, weights, start, &mut out[t * 8 * V..]);
    }
}

/// `B` rows, the first at the beginning of `x`, to the beginning of `out`.
#[inline(always)]
fn block<S: Simd, const V: usize, const B: usize>(
    simd: S,
    x: &[f32],
    rows: Rows,
    weights: &[[f32; 8]],
    start: [f32x8<S>; V],
    out: &mut [f32],
) {
    let mut sums = [start; B];
    for part in 0..rows.parts {
        let weights = &weights[part * rows.length * V..][..rows.length * V];
        let lines: [&[f32]; B] = std::array::from_fn(|b| &x[part * rows.jump + b * rows.stride..][..rows.length]);
        for i in 0..rows.length {
            for v in 0..V {
                let w = f32x8::load_array_ref(simd, &weights[i * V + v]);
                for b in 0..B {
                    sums[b][v] = w.mul_add(f32x8::splat(simd, lines[b][i]), sums[b][v]);
                }
            }
        }
    }
    let out = out.as_chunks_mut::<8>().0;
    for b in 0..B {
        for v in 0..V {
            sums[b][v].store_array(&mut out[b * V + v]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use fearless_simd::{Level, dispatch};

    /// Against the sums written out.
    #[test]
    fn rows_times_a_matrix() {
        let x: Vec<f32> = (0..90).map(|i| ((i * 37) % 17) as f32 - 8.0).collect();
        let weights: Vec<f32> = (0..3 * 5 * 8).map(|i| ((i * 29) % 13) as f32 - 6.0).collect();
        let bias = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
        let rows = Rows { start: 2, stride: 6, jump: 11, parts: 3, length: 5 };
        for count in [1, 4, 7, 10] {
            let mut out = vec![9.0];
            dispatch!(Level::new(), simd => dense::<_, 1, 4>(simd, &x, rows, count, &weights, &bias, &mut out));
            assert_eq!(out.len(), 8 * count);
            for t in 0..count {
                for o in 0..8 {
                    let sum: f32 =
                        (0..15).map(|i| x[2 + 6 * t + 11 * (i / 5) + i % 5] * weights[8 * i + o]).sum::<f32>();
                    assert_eq!(out[8 * t + o], sum + bias[o], "{count} rows: {t}, {o}");
                }
            }
        }
        let mut out = Vec::new();
        dispatch!(Level::new(), simd => dense::<_, 1, 4>(simd, &x, rows, 60, &weights, &bias, &mut out));
        assert!(out.is_empty(), "reaches beyond the input");
    }
}
