//! From evidence to an instant.

use crate::located::Rival;
use crate::tuning::{ASTRAY, ASTRAY_MS, BIN_MS, BINS, CORE_MS, HUMP, LEAST_RIVAL, MOST_RIVALS, SOFT_MS};
use takegauge_units::Millis;

/// What the evidence says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Posterior {
    /// The instant against the middle of the window.
    pub after: Millis,
    pub sd: Millis,
    pub attack: f64,
    pub rivals: [Option<Rival>; MOST_RIVALS],
}

/// Evidence (`2 * BINS` logits and that of no attack) times what was known beforehand of the place.
pub(crate) fn posterior(logits: &[f32], known: Millis) -> Posterior {
    let place = |i: usize| (i as f64 - (2 * BINS - 1) as f64 / 2.0) * BIN_MS;
    let (bins, none) = logits.split_at(logits.len().min(2 * BINS));
    let sd = if known.0 > 0.0 { known.0 } else { f64::INFINITY };
    let most = logits.iter().fold(f32::NEG_INFINITY, |m, l| m.max(*l));
    let likely: Vec<f64> = bins.iter().map(|l| f64::from(l - most).exp()).collect();
    let there: f64 = likely.iter().sum();
    let nothing = none.first().map_or(0.0, |l| f64::from(l - most).exp());
    let p: Vec<f64> = likely.iter().enumerate().map(|(i, l)| l * beforehand(place(i), sd)).collect();
    let whole: f64 = p.iter().sum();
    let Some(best) = Hump::highest(&p, |_| true).filter(|_| whole > 0.0) else {
        let sd = Millis(BINS as f64 * BIN_MS);
        return Posterior { after: Millis(0.0), sd, attack: 0.0, rivals: [None; MOST_RIVALS] };
    };
    let after = best.middle(&p, place);
    let variance = p.iter().enumerate().map(|(i, p)| p * (place(i) - after).powi(2)).sum::<f64>() / whole;
    let sd = Millis((variance - SOFT_MS * SOFT_MS).max(0.0).sqrt().hypot(CORE_MS));
    let mut told = vec![best.at];
    let rivals = std::array::from_fn(|_| {
        let rival = Hump::highest(&p, |i| told.iter().all(|t| t.abs_diff(i) > 2 * HUMP))?;
        told.push(rival.at);
        let share = rival.mass / whole;
        (share >= LEAST_RIVAL).then(|| Rival { after: Millis(rival.middle(&p, place) - after), share })
    });
    Posterior { after: Millis(after), sd, attack: there / (there + nothing), rivals }
}

/// How likely the release is so many milliseconds after a rough place of this standard deviation: normal about it, but
/// for the rough places that are led astray.
fn beforehand(after: f64, sd: f64) -> f64 {
    let normal = (-0.5 * (after / sd).powi(2)).exp() / (sd * std::f64::consts::TAU.sqrt());
    (1.0 - ASTRAY) * normal + ASTRAY / (2.0 * ASTRAY_MS)
}

/// Evidence within a millisecond.
struct Hump {
    at: usize,
    mass: f64,
}

impl Hump {
    /// The highest of those that `may` be.
    fn highest(p: &[f64], may: impl Fn(usize) -> bool) -> Option<Self> {
        let humps = (0..p.len()).filter(|i| may(*i)).map(|at| Self { at, mass: Self::frames(p, at).iter().sum() });
        humps.filter(|h| h.mass > 0.0).fold(None, |best: Option<Self>, h| match best {
            Some(b) if b.mass >= h.mass => Some(b),
            _ => Some(h),
        })
    }

    fn frames(p: &[f64], at: usize) -> &[f64] {
        &p[at.saturating_sub(HUMP)..(at + HUMP + 1).min(p.len())]
    }

    /// Its centre of mass.
    fn middle(&self, p: &[f64], place: impl Fn(usize) -> f64) -> f64 {
        let first = self.at.saturating_sub(HUMP);
        Self::frames(p, self.at).iter().enumerate().map(|(k, p)| p * place(first + k)).sum::<f64>() / self.mass
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Evidence of two normal humps, places in ms and weights.
    fn logits(humps: &[(f64, f64)]) -> Vec<f32> {
        let place = |i: usize| (i as f64 - (2 * BINS - 1) as f64 / 2.0) * BIN_MS;
        let p = |i| humps.iter().map(|(t, w)| w * (-0.5 * ((place(i) - t) / SOFT_MS).powi(2)).exp()).sum::<f64>();
        (0..2 * BINS).map(|i| (p(i) + 1e-12).ln() as f32).chain([-9.0]).collect()
    }

    #[test]
    fn one_hump_is_placed_between_frames_and_as_sure_as_can_be() {
        for at in [-7.3, -0.11, 0.0, 0.27, 5.02] {
            let found = posterior(&logits(&[(at, 1.0)]), Millis(f64::INFINITY));
            assert!((found.after.0 - at).abs() < 0.02 && found.sd.0 < 0.15, "{at}: {found:?}");
            assert!(found.attack > 0.99 && found.rivals.iter().all(Option::is_none));
        }
    }

    #[test]
    fn a_second_hump_is_a_rival_and_makes_unsure() {
        let found = posterior(&logits(&[(1.0, 0.8), (-5.0, 0.2)]), Millis(f64::INFINITY));
        let rival = found.rivals[0].unwrap();
        assert!((found.after.0 - 1.0).abs() < 0.05 && (rival.after.0 + 6.0).abs() < 0.1, "{found:?}");
        // 20 % of the evidence 6 ms away: sqrt(0.2) 6.
        assert!((rival.share - 0.2).abs() < 0.01 && (found.sd.0 - 2.7).abs() < 0.1, "{found:?}");
        // What was known decides between equals.
        let known = posterior(&logits(&[(8.0, 0.5), (-1.0, 0.5)]), Millis(4.0));
        assert!((known.after.0 + 1.0).abs() < 0.1, "{known:?}");
        // A rough place may have been led far astray: there clear evidence counts.
        let astray = posterior(&logits(&[(15.0, 0.8), (0.0, 0.04)]), Millis(4.0));
        assert!((astray.after.0 - 15.0).abs() < 0.1, "{astray:?}");
    }

    #[test]
    fn no_evidence_is_no_attack() {
        for logits in [vec![], vec![f32::NAN; 2 * BINS + 1], vec![f32::NEG_INFINITY; 2 * BINS + 1]] {
            let found = posterior(&logits, Millis(4.0));
            assert!(found.after.0.is_finite() && found.sd.0.is_finite() && found.attack == 0.0, "{found:?}");
        }
    }
}
