//! How long a level trace stays up: the trace is held against every decay of a family, seen through its own window.

use crate::dot::dot;
use crate::partials::{Trace, steps, time};
use crate::tuning::decay::{
    BEYOND_S, DAMPED_S, EARLIEST_S, FINE, HIGHEST_FLOOR, LAST_BEFORE_END_S, LAST_LEVELS, LEAST_HEARD, LESS_USUAL,
    LONGEST_GAP_S, NATURAL_S, NEARLY,
};
use crate::tuning::ringing::HOP_S;
use std::f64::consts::TAU;

/// ln 10: a level is 20 dB down after this many time constants.
const TWENTY_DB: f64 = std::f64::consts::LN_10;
/// Values are held against each other so many at a time.
const LANES: usize = 8;

/// A decay seen through a window.
struct Shape {
    /// How far down it is at the trace's steps, 0 to 1, and some more, so that what is padded can be held against it.
    down: Vec<f32>,
    /// When the damping begins.
    damped_at: f64,
    /// When it is 20 dB down, seconds after the attack.
    down_at: f64,
    handicap: f64,
}

/// The family, for one length of window.
pub(crate) struct Family {
    pub(crate) length: f64,
    shapes: Vec<Shape>,
}

/// The decay that fits best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fitted {
    /// 20 dB down so long after the attack, seconds.
    pub(crate) down_at: f64,
    /// How far apart the answers of decays that fit nearly as well lie, seconds.
    pub(crate) range: f64,
    /// Mean deviation of the trace from it, in units of the level before the attack.
    pub(crate) misfit: f64,
    /// Level left over, in the same units.
    pub(crate) floor: f64,
    /// How far the trace has come down by its end: the last level heard, above what is left over.
    pub(crate) last_level: f64,
}

impl Family {
    /// For Hann windows of `length` seconds.
    pub(crate) fn new(length: f64) -> Self {
        let fine = HOP_S / FINE as f64;
        let half = (0.5 * length / fine) as i64;
        let weights: Vec<f64> = (-half..=half).map(|k| 1.0 + (TAU * k as f64 * fine / length).cos()).collect();
        let sum: f64 = weights.iter().sum();
        let drawn_from = time(0) - half as f64 * fine;
        let drawn = (steps() - 1) * FINE + weights.len();
        let mut shapes = Vec::new();
        for (n, natural) in NATURAL_S.iter().enumerate() {
            for (d, damped) in DAMPED_S.iter().enumerate() {
                let mut at = EARLIEST_S;
                while at < time(steps() - 1) - LAST_BEFORE_END_S {
                    let envelope = |t: f64| (-t.max(0.0) / natural - (t - at).max(0.0) / damped).exp();
                    let line: Vec<f64> = (0..drawn).map(|k| envelope(drawn_from + k as f64 * fine)).collect();
                    let seen = |s: usize| dot(&line[s * FINE..], &weights) / sum;
                    shapes.push(Shape {
                        down: (0..steps()).map(|s| (1.0 - seen(s)) as f32).chain([1.0; LANES]).collect(),
                        damped_at: at,
                        down_at: down(*natural, *damped, at),
                        handicap: LESS_USUAL * (n + d) as f64,
                    });
                    at += HOP_S;
                }
            }
        }
        Self { length, shapes }
    }

    /// Fits the values of `trace` whose windows end before `until` (seconds after the attack).
    pub(crate) fn fit(&self, trace: &Trace, until: f64) -> Option<Fitted> {
        let within = |s: &usize| trace.weight[*s] > 0.0 && time(*s) + 0.5 * self.length < until;
        let mut used: Vec<usize> = (0..steps()).filter(within).collect();
        // What is heard again after a gap says nothing about when it fell.
        let gap = used.windows(2).position(|w| time(w[1]) - time(w[0]) > LONGEST_GAP_S);
        used.truncate(gap.map_or(used.len(), |k| k + 1));
        let last = time(*used.last()?);
        let after: f64 = used.iter().filter(|s| time(**s) > 0.0).map(|s| trace.weight[*s]).sum();
        if after < LEAST_HEARD {
            return None;
        }
        let held = Held::new(trace, &used);
        let possible = |i: usize| self.shapes[i].damped_at <= last;
        let none = (f64::INFINITY, 0.0);
        let fit = |i: usize| if possible(i) { held.misfit(&self.shapes[i]) } else { none };
        let fits: Vec<(f64, f64)> = (0..self.shapes.len()).map(fit).collect();
        let best = (0..fits.len()).filter(|i| possible(*i)).min_by(|a, b| {
            (fits[*a].0 + self.shapes[*a].handicap).total_cmp(&(fits[*b].0 + self.shapes[*b].handicap))
        })?;
        let bar = fits[best].0 + NEARLY;
        let alike = (0..fits.len()).filter(|i| possible(*i) && fits[*i].0 <= bar);
        let (low, high) = alike
            .map(|i| self.shapes[i].down_at.min(until + BEYOND_S))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |r, t| (r.0.min(t), r.1.max(t)));
        let (misfit, floor) = fits[best];
        let end = &used[used.len().saturating_sub(LAST_LEVELS)..];
        let last_level = end.iter().map(|s| trace.ratio[*s]).sum::<f64>() / end.len() as f64 - floor;
        Some(Fitted { down_at: self.shapes[best].down_at, range: high - low, misfit, floor, last_level })
    }
}

/// The part of a trace that shapes are held against; what is not used in it weighs nothing.
struct Held {
    first: usize,
    /// How far the trace is above 1, and what each value weighs; the weights' sum is 1.
    above: Vec<f32>,
    weight: Vec<f32>,
}

impl Held {
    fn new(trace: &Trace, used: &[usize]) -> Self {
        let (first, end) = (used.first().copied().unwrap_or(0), used.last().map_or(0, |l| l + 1));
        let total: f64 = used.iter().map(|s| trace.weight[*s]).sum();
        let weight: Vec<f32> = (first..end).map(|s| (trace.weight[s] / total) as f32).collect();
        let above: Vec<f32> = (first..end).map(|s| (trace.ratio[s] - 1.0) as f32).collect();
        let padded = |mut values: Vec<f32>| {
            values.resize(values.len().next_multiple_of(LANES), 0.0);
            values
        };
        Self { first, above: padded(above), weight: padded(weight) }
    }

    /// Mean deviation, and the level left over that makes it least (in the sense of squares).
    fn misfit(&self, shape: &Shape) -> (f64, f64) {
        let down = &shape.down[self.first..self.first + self.above.len()];
        let (mut square, mut product) = ([0.0f32; LANES], [0.0f32; LANES]);
        for ((d, w), a) in
            down.chunks_exact(LANES).zip(self.weight.chunks_exact(LANES)).zip(self.above.chunks_exact(LANES))
        {
            for k in 0..LANES {
                let weighed = w[k] * d[k];
                square[k] += weighed * d[k];
                product[k] += weighed * (a[k] + d[k]);
            }
        }
        let sum = |lanes: [f32; LANES]| f64::from(lanes.iter().sum::<f32>());
        let floor = (sum(product) / (sum(square) + 1e-9)).clamp(0.0, HIGHEST_FLOOR);
        let left = 1.0 - floor as f32;
        let mut apart = [0.0f32; LANES];
        for ((d, w), a) in
            down.chunks_exact(LANES).zip(self.weight.chunks_exact(LANES)).zip(self.above.chunks_exact(LANES))
        {
            for k in 0..LANES {
                apart[k] += w[k] * (a[k] + left * d[k]).abs();
            }
        }
        (sum(apart), floor)
    }
}

/// When exp(-t / natural) exp(-(t - at) / damped) is 0.1.
fn down(natural: f64, damped: f64, at: f64) -> f64 {
    let alone = TWENTY_DB * natural;
    if alone <= at {
        return alone;
    }
    if at <= 0.0 {
        // The fall may begin before the attack; the level then is the reference all the same.
        let own = at + TWENTY_DB * damped;
        if own <= 0.0 {
            return own;
        }
    }
    (TWENTY_DB + at / damped) / (1.0 / natural + 1.0 / damped)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(down: impl Fn(f64) -> f64, length: f64) -> Trace {
        let n = 200;
        let mean = |t: f64| {
            let u = |k: usize| (k as f64 + 0.5) / n as f64 - 0.5;
            (0..n).map(|k| (1.0 + (TAU * u(k)).cos()) * down(t + length * u(k))).sum::<f64>() / n as f64
        };
        let weight = (0..steps()).map(|s| if time(s) < -0.5 * length { 0.0 } else { 1.0 }).collect();
        Trace { ratio: (0..steps()).map(|s| mean(time(s))).collect(), weight, share: 1.0, amplitude: 0.1 }
    }

    #[test]
    fn a_damped_string_is_down_when_it_is() {
        let family = Family::new(0.035);
        for at in [0.005, 0.015, 0.04, 0.085, 0.12, 0.25] {
            let trace = seen(|t| (-(t - at).max(0.0) / 0.004).exp(), 0.035);
            let fitted = family.fit(&trace, 1.0).unwrap();
            let want = at + TWENTY_DB * 0.004;
            assert!((fitted.down_at - want).abs() < 0.004, "{at}: {fitted:?}");
            assert!(fitted.range < 0.03, "{at}: {fitted:?}");
        }
    }

    #[test]
    fn a_slow_fall_is_followed_to_20_db() {
        let trace = seen(|t| (-t.max(0.0) / 0.08).exp(), 0.05);
        let fitted = Family::new(0.05).fit(&trace, 1.0).unwrap();
        assert!((fitted.down_at - TWENTY_DB * 0.08).abs() < 0.03, "{fitted:?}");
    }

    #[test]
    fn what_leaves_off_before_it_falls_cannot_be_told() {
        let trace = seen(|_| 1.0, 0.035);
        let fitted = Family::new(0.035).fit(&trace, 0.1).unwrap();
        assert!(fitted.down_at > 0.08 || fitted.range > 0.04, "{fitted:?}");
        assert_eq!(Family::new(0.035).fit(&trace, 0.02), None);
    }

    #[test]
    fn twenty_decibels() {
        assert!((down(10.0, 0.004, 0.015) - 0.0242).abs() < 3e-4);
        assert!((down(0.08, 0.004, 0.3) - 0.1842).abs() < 1e-4);
        assert_eq!(crate::tuning::ringing::BEFORE_S, -time(0));
    }
}
