//! Which candidates are attacks, once the whole take is heard.
//!
//! Where notes and noises part differs from take to take: a microphone hears every finger, a clean line nothing but
//! notes. So the threshold is where the take's own candidates are fewest, between bounds; with few candidates it stays
//! where clean lines have it.

use crate::appeal;
use crate::candidate::{Candidate, loud};
use crate::evidence::{Weighed, weigh};
use crate::tuning::decide::{
    FAINTEST, JUST_BELOW, LEAST_THRESHOLD, MOST_THRESHOLD, ONE_ATTACK_MS, OPENING_ALONE_MS, OPENING_DB, OPENING_RISE,
    OPENING_STEADY, OPENING_STEADY_DB, SMOOTHING, STRONGEST, THRESHOLD_STEPS, USUAL_THRESHOLD,
};
use takegauge_units::{Attack, Decibels, Instant, Millis};

/// Candidates in order of time, with what is weighed of each.
struct Heard {
    candidates: Vec<Candidate>,
    weighed: Vec<Weighed>,
}

/// What is weighed of all candidates of a take: for fitting the weights.
pub(crate) fn weighed(candidates: Vec<Candidate>, opening: Option<Candidate>, ms: f64) -> Vec<Weighed> {
    Heard::of(candidates, opening, ms).weighed
}

impl Heard {
    fn of(mut candidates: Vec<Candidate>, opening: Option<Candidate>, ms: f64) -> Self {
        candidates.sort_by(|a, b| a.at.total_cmp(&b.at));
        let mut rises: Vec<f32> = candidates.iter().map(|c| c.rise).collect();
        rises.sort_by(f32::total_cmp);
        let from = (rises.len() as f64 * (1.0 - STRONGEST)) as usize;
        let usual = f64::from(rises.get((from + rises.len()) / 2).copied().unwrap_or(1.0).max(1e-6));
        let loud = loud(candidates.iter());
        if let Some(o) = opening {
            let level_db = 10.0 * (f64::from(o.power) / loud).max(1e-20).log10();
            let steady = level_db < OPENING_STEADY_DB && o.decay.residual_ratio > OPENING_STEADY;
            if o.power > 0.0 && !candidates.is_empty() && level_db >= OPENING_DB && !steady {
                candidates.retain(|c| c.at - o.at > OPENING_ALONE_MS * ms);
                candidates.insert(0, Candidate { rise: OPENING_RISE, transient: OPENING_RISE, ..o });
            }
        }
        let weighed = weigh(&candidates, usual, loud, ms);
        Self { candidates, weighed }
    }
}

/// Attacks of strength 0.25 and up, in order of time. `candidates` are those of the whole take, `opening` is its first
/// sound, `ms` the samples to a millisecond.
pub(crate) fn decide(candidates: Vec<Candidate>, opening: Option<Candidate>, ms: f64) -> Vec<Attack> {
    let Heard { candidates, weighed } = Heard::of(candidates, opening, ms);
    let evidence: Vec<f64> = weighed.iter().map(Weighed::evidence).collect();
    let threshold = threshold(&evidence);
    let mut strengths: Vec<f64> = evidence.iter().map(|e| (e - threshold).exp2()).collect();
    appeal::hear(&candidates, &mut strengths, ms);
    // A reader who knows what to expect weighs neighbours himself: to him what is below the threshold is as strong as it
    // would be without them, knocks and clicks too.
    for (s, w) in strengths.iter_mut().zip(&weighed).filter(|(s, _)| **s < 1.0) {
        *s = (*s * w.lost_to_neighbours().exp2()).min(JUST_BELOW);
    }
    let mut attacks: Vec<Attack> = Vec::new();
    let mut last = f64::NEG_INFINITY;
    for (c, strength) in candidates.iter().zip(strengths) {
        // Two candidates may have been led to one attack: the stronger stands for it.
        let again = c.at - last < ONE_ATTACK_MS * ms;
        if strength < FAINTEST || again && attacks.last().is_some_and(|a| f64::from(a.strength) >= strength) {
            continue;
        }
        if again {
            attacks.pop();
        }
        last = c.at;
        attacks.push(Attack {
            at: Instant::new(0, c.at),
            uncertainty: Millis(c.uncertainty_ms),
            strength: strength as f32,
            level: Decibels::from_amplitude(f64::from(c.peak)),
            pitch: c.pitch,
        });
    }
    attacks
}

/// Where the fewest candidates are.
fn threshold(evidence: &[f64]) -> f64 {
    let mut best = (f64::MAX, USUAL_THRESHOLD);
    for i in 0..=THRESHOLD_STEPS {
        let here = LEAST_THRESHOLD + (MOST_THRESHOLD - LEAST_THRESHOLD) * i as f64 / THRESHOLD_STEPS as f64;
        let near = |e: &f64| (-0.5 * ((e - here) / SMOOTHING).powi(2)).exp();
        let count: f64 = evidence.iter().map(near).sum::<f64>() + (here - USUAL_THRESHOLD).powi(2);
        if count < best.0 {
            best = (count, here);
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decay::Decay;
    use takegauge_units::PitchEvidence;

    #[test]
    fn the_threshold_lies_in_the_valley() {
        let two = |low: f64, high: f64| {
            let spread = |at: f64| (0..40).map(move |i| at + f64::from(i - 20) * 0.05);
            spread(low).chain(spread(high)).collect::<Vec<f64>>()
        };
        let t = threshold(&two(-1.7, 3.3));
        assert!((-0.4..1.8).contains(&t), "{t}");
        let t = threshold(&two(-4.2, 1.3));
        assert!((-2.7..-0.1).contains(&t), "{t}");
        assert!((threshold(&[]) - USUAL_THRESHOLD).abs() < 0.05);
    }

    #[test]
    fn of_candidates_led_to_one_attack_the_stronger_stands() {
        let ms = 44.1;
        let candidate = |at_ms: f64, rise: f32| Candidate {
            at: at_ms * ms,
            uncertainty_ms: 0.2,
            attack: 1.0,
            rise,
            transient: rise,
            power: 0.01,
            decay: Decay { lasting: 0.9, residual_ratio: 0.8, added: 10.0 },
            peak: 0.3,
            pitch: PitchEvidence::NONE,
        };
        let heard = |of: &[(f64, f32)]| -> Vec<f64> {
            let notes = (1..8).map(|i| candidate(f64::from(i) * 200.0, 1.0));
            let found = decide(notes.chain(of.iter().map(|c| candidate(c.0, c.1))).collect(), None, ms);
            let at_ms = |a: &Attack| (a.at.sample() as f64 + a.at.fraction()) / ms;
            found.iter().map(at_ms).filter(|t| *t > 1500.0).map(|t| (10.0 * t).round() / 10.0).collect()
        };
        assert_eq!(heard(&[(1600.0, 1.2), (1602.0, 0.8)]), [1600.0]);
        assert_eq!(heard(&[(1600.0, 0.8), (1602.0, 1.2)]), [1602.0]);
        assert_eq!(heard(&[(1600.0, 1.0), (1620.0, 1.0)]), [1600.0, 1620.0]);
    }
}
