//! The net: context at two milliseconds a step, the release at half a millisecond, and whether there is one. The form
//! that tests/measure/fit_ear.py (`forward`) states.

use crate::dense::{Rows, dense};
use crate::features::{Features, Filters, channels};
use crate::tuning::{BINS, SLOW};
use fearless_simd::Simd;

/// Taps of every convolution.
pub(crate) const KERNEL: usize = 5;
/// Frames between the taps of the three fast convolutions, of the first on the features, and of the three slow ones.
const FAST: [usize; 3] = [2, 4, 1];
const SLOW_GAPS: [usize; 3] = [1, 2, 2];
/// Frames and steps that the convolutions lose on each side.
const MARGIN: usize = 2 * (1 + FAST[0] + FAST[1] + FAST[2]);
const SLOW_MARGIN: usize = 2 * (SLOW_GAPS[0] + SLOW_GAPS[1] + SLOW_GAPS[2]);
/// Units that decide whether there is an attack.
pub(crate) const DECIDING: usize = 8;

/// Weights of one layer: inputs x outputs, and the outputs' bias.
#[derive(Debug, Clone, Default)]
pub(crate) struct Layer {
    pub weights: Vec<f32>,
    pub bias: Vec<f32>,
}

/// All of a net of `WIDE` channels, 8 `V`, with `FILTERS` on the sound, 8 `FV`.
#[derive(Debug, Clone, Default)]
pub(crate) struct Net<const WIDE: usize, const FILTERS: usize, const V: usize, const FV: usize> {
    pub reach: usize,
    pub filters: Filters,
    pub slow: [Layer; 3],
    pub first: Layer,
    pub up: Vec<f32>,
    pub fast: [Layer; 3],
    pub out: Vec<f32>,
    pub none: Layer,
    pub none_out: Layer,
}

/// Buffers, kept from one window to the next.
#[derive(Debug, Clone, Default)]
pub(crate) struct Scratch {
    a: Vec<f32>,
    b: Vec<f32>,
    c: Vec<f32>,
}

impl<const WIDE: usize, const FILTERS: usize, const V: usize, const FV: usize> Net<WIDE, FILTERS, V, FV> {
    /// The logits of the frames in which a release is sought, then that of "no attack here".
    #[inline(always)]
    pub(crate) fn run<S: Simd>(
        &self,
        simd: S,
        window: &[f32],
        features: &mut Features,
        scratch: &mut Scratch,
        logits: &mut Vec<f32>,
    ) {
        features.tell::<S, FILTERS, FV>(simd, window, self.reach, &self.filters);
        let (frames, width) = (2 * self.reach, channels(FILTERS));
        let Scratch { a, b, c } = scratch;
        // What goes on around.
        a.clear();
        a.resize(frames / SLOW * width, 0.0);
        for (step, out) in features.values.chunks_exact(SLOW * width).zip(a.chunks_exact_mut(width)) {
            for line in step.chunks_exact(width) {
                for (o, x) in out.iter_mut().zip(line) {
                    *o += x / SLOW as f32;
                }
            }
        }
        let mut steps = frames / SLOW;
        for (i, (layer, gap)) in self.slow.iter().zip(SLOW_GAPS).enumerate() {
            let inputs = if i == 0 { width } else { WIDE };
            steps -= (KERNEL - 1) * gap;
            convolve::<S, V>(simd, a, 0, inputs, gap, steps, layer, b);
            std::mem::swap(a, b);
        }
        let rows = Rows { start: 0, stride: WIDE, jump: 0, parts: 1, length: WIDE };
        dense::<S, V, 4>(simd, a, rows, steps, &self.up, &[], c);
        // Where the release is.
        let bins = 2 * BINS;
        let edge = self.reach - BINS;
        let mut rows = bins + 2 * (MARGIN - 2);
        let first = edge - (MARGIN - 2);
        convolve::<S, V>(simd, &features.values, (edge - MARGIN) * width, width, 1, rows, &self.first, a);
        for (k, line) in a.chunks_exact_mut(WIDE).enumerate() {
            let step = (first + k) / SLOW - SLOW_MARGIN;
            for (x, around) in line.iter_mut().zip(&c[step * WIDE..]) {
                *x = (*x + around).max(0.0);
            }
        }
        for (layer, gap) in self.fast.iter().zip(FAST) {
            rows -= (KERNEL - 1) * gap;
            convolve::<S, V>(simd, a, 0, WIDE, gap, rows, layer, b);
            std::mem::swap(a, b);
        }
        logits.clear();
        let mut most = [f32::NEG_INFINITY; WIDE];
        for line in a.as_chunks::<WIDE>().0 {
            logits.push(line.iter().zip(&self.out).map(|(x, w)| x * w).sum());
            for (m, x) in most.iter_mut().zip(line) {
                *m = m.max(*x);
            }
        }
        // Whether there is one.
        let hidden = (0..DECIDING).map(|o| {
            let sum: f32 = most.iter().zip(self.none.weights[o..].iter().step_by(DECIDING)).map(|(x, w)| x * w).sum();
            (sum + self.none.bias[o]).max(0.0)
        });
        let none: f32 = hidden.zip(&self.none_out.weights).map(|(x, w)| x * w).sum();
        logits.push(none + self.none_out.bias[0]);
    }
}

/// A convolution over frames of `inputs` values, from value `start` on, and its rectifier, into `out`.
#[inline(always)]
#[expect(clippy::too_many_arguments, reason = "a convolution has these")]
fn convolve<S: Simd, const V: usize>(
    simd: S,
    x: &[f32],
    start: usize,
    inputs: usize,
    gap: usize,
    rows: usize,
    layer: &Layer,
    out: &mut Vec<f32>,
) {
    let at = Rows { start, stride: inputs, jump: gap * inputs, parts: KERNEL, length: inputs };
    if V == 1 {
        dense::<S, V, 8>(simd, x, at, rows, &layer.weights, &layer.bias, out);
    } else {
        dense::<S, V, 4>(simd, x, at, rows, &layer.weights, &layer.bias, out);
    }
    for x in out.iter_mut() {
        *x = x.max(0.0);
    }
}
