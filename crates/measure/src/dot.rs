//! Sums of products, in lanes that a processor adds side by side.

use std::ops::{Add, Mul};

/// Partial sums kept apart.
const LANES: usize = 16;

/// Sum of a\[i\] b\[i\] over the shorter of the two; always added in the same order.
pub(crate) fn dot<T: Copy + Default + Add<Output = T> + Mul<Output = T>>(a: &[T], b: &[T]) -> T {
    let n = a.len().min(b.len());
    let (a, b) = (&a[..n], &b[..n]);
    let mut lanes = [T::default(); LANES];
    let (mut left, mut right) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    for (x, y) in left.by_ref().zip(right.by_ref()) {
        for ((l, x), y) in lanes.iter_mut().zip(x).zip(y) {
            *l = *l + *x * *y;
        }
    }
    let rest = left.remainder().iter().zip(right.remainder()).fold(T::default(), |s, (x, y)| s + *x * *y);
    lanes.iter().fold(rest, |s, l| s + *l)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lanes_and_rest_make_the_plain_sum() {
        for n in [0, 1, 15, 16, 17, 100] {
            let a: Vec<f64> = (0..n).map(|i| i as f64 - 3.0).collect();
            let b: Vec<f64> = (0..n + 2).map(|i| (i * i % 7) as f64).collect();
            assert_eq!(dot(&a, &b), a.iter().zip(&b).map(|(x, y)| x * y).sum::<f64>());
        }
    }
}
