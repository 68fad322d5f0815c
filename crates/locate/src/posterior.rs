//! From evidence to an instant.

use crate::tuning::{BINS, HOP, HUMP, RATE_HZ};
use takegauge_units::Millis;

/// What the evidence says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Posterior {
    /// The instant against the middle of the window.
    pub after: Millis,
    pub sd: Millis,
    pub attack: f64,
}

/// Evidence (`2 * BINS` logits and that of no attack) times what was known: a normal distribution about the middle.
pub(crate) fn posterior(logits: &[f32], known: Millis) -> Posterior {
    let bin_ms = HOP as f64 / RATE_HZ * 1e3;
    let place = |i: usize| (i as f64 - (2 * BINS - 1) as f64 / 2.0) * bin_ms;
    let (bins, none) = logits.split_at(logits.len().min(2 * BINS));
    let sd = if known.0 > 0.0 { known.0 } else { f64::INFINITY };
    let most = logits.iter().fold(f32::NEG_INFINITY, |m, l| m.max(*l));
    let likely: Vec<f64> = bins.iter().map(|l| f64::from(l - most).exp()).collect();
    let there: f64 = likely.iter().sum();
    let nothing = none.first().map_or(0.0, |l| f64::from(l - most).exp());
    let p: Vec<f64> = likely.iter().enumerate().map(|(i, l)| l * (-0.5 * (place(i) / sd).powi(2)).exp()).collect();
    let around = |i: usize| i.saturating_sub(HUMP)..(i + HUMP + 1).min(p.len());
    let hump = |i: usize| p[around(i)].iter().sum::<f64>();
    let best = (0..p.len()).fold((0, f64::MIN), |b, i| if hump(i) > b.1 { (i, hump(i)) } else { b }).0;
    let mass = p.get(around(best)).map_or(0.0, |h| h.iter().sum());
    let whole: f64 = p.iter().sum();
    if whole.is_nan() || mass <= 0.0 {
        return Posterior { after: Millis(0.0), sd: Millis(BINS as f64 * bin_ms), attack: 0.0 };
    }
    let after = around(best).map(|i| p[i] * place(i)).sum::<f64>() / mass;
    let variance = p.iter().enumerate().map(|(i, p)| p * (place(i) - after).powi(2)).sum::<f64>() / whole;
    Posterior { after: Millis(after), sd: Millis(variance.sqrt()), attack: there / (there + nothing) }
}
