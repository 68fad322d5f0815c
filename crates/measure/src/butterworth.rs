//! Second-order Butterworth filters.

/// One filter of two poles, by the bilinear transform (Oppenheim & Schafer, Discrete-Time Signal Processing, section
/// 7.1).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Section {
    b: [f32; 3],
    a: [f32; 2],
}

impl Section {
    pub(crate) const PASS: Self = Self { b: [1.0, 0.0, 0.0], a: [0.0, 0.0] };

    /// `cycles`: edge in cycles a sample.
    pub(crate) fn low_pass(cycles: f64) -> Self {
        Self::of(cycles, |k| [k * k, 2.0 * k * k, k * k])
    }

    /// `cycles`: edge in cycles a sample.
    pub(crate) fn high_pass(cycles: f64) -> Self {
        Self::of(cycles, |_| [1.0, -2.0, 1.0])
    }

    fn of(cycles: f64, zeros: impl Fn(f64) -> [f64; 3]) -> Self {
        let k = (std::f64::consts::PI * cycles.min(0.49)).tan();
        let norm = 1.0 / (1.0 + std::f64::consts::SQRT_2 * k + k * k);
        let b = zeros(k).map(|z| (z * norm) as f32);
        let a = [2.0 * (k * k - 1.0) * norm, (1.0 - std::f64::consts::SQRT_2 * k + k * k) * norm].map(|a| a as f32);
        Self { b, a }
    }

    /// Filters in place, from rest.
    pub(crate) fn run(&self, x: &mut [f32]) {
        let (mut s1, mut s2) = (0.0f32, 0.0f32);
        for x in x {
            let y = self.b[0] * *x + s1;
            s1 = self.b[1] * *x - self.a[0] * y + s2;
            s2 = self.b[2] * *x - self.a[1] * y;
            *x = y;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// The amplitude of a tone once the filter has settled, from its mean power: samples seldom meet the peaks.
    fn gain(filter: Section, cycles: f64) -> f32 {
        let mut tone: Vec<f32> = (0..4_000).map(|i| (TAU * cycles * f64::from(i)).sin() as f32).collect();
        filter.run(&mut tone);
        let settled = &tone[2_000..];
        (2.0 * settled.iter().map(|x| x * x).sum::<f32>() / settled.len() as f32).sqrt()
    }

    #[test]
    fn edges_are_3_db_down_and_the_far_side_is_gone() {
        let half = 0.5f32.sqrt();
        for (filter, edge, passed, stopped) in
            [(Section::low_pass(0.05), 0.05, 0.002, 0.4), (Section::high_pass(0.05), 0.05, 0.4, 0.002)]
        {
            assert!((gain(filter, edge) - half).abs() < 0.01, "{}", gain(filter, edge));
            assert!((gain(filter, passed) - 1.0).abs() < 0.02 && gain(filter, stopped) < 0.02);
        }
        assert!((gain(Section::PASS, 0.25) - 1.0).abs() < 1e-4);
    }
}
