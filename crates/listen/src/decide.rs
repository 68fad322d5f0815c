//! Which candidates are attacks, once the whole take is heard.
//!
//! Evidence multiplies (its logarithms add). Where notes and noises part differs from take to take: a microphone
//! hears every finger, a clean line nothing but notes. So the threshold is where the take's own candidates are
//! fewest, between bounds; with few candidates it stays where clean lines have it.

use crate::appeal;
use crate::candidate::{Candidate, FAINTEST, loud};
use crate::tuning::ONE_ATTACK_MS;
use takegauge_units::{Attack, Decibels, Instant, Millis};

/// The recording's first sound is an attack if it is no more than this much softer than the loud ones: a recording that
/// begins with noise begins softly. It counts by the rise that a note out of silence has.
const OPENING_DB: f64 = -12.0;
/// ... and a soft one only if it decays: hum and noise that the recording begins with go on as they are.
const OPENING_STEADY_DB: f64 = -6.0;
const OPENING_STEADY: f32 = 0.9;
const OPENING_RISE: f32 = 1.0;
/// ... and it stands for any other candidate as near as this.
const OPENING_ALONE_MS: f64 = 25.0;
/// Share of the strongest candidates whose median rise is the take's own measure: most are notes.
const STRONGEST: f64 = 0.6;
/// A candidate softer than this is the noise floor, not a note, dB.
const SOFTEST_DB: f64 = -45.0;
/// A string, even a choked one, keeps this share of its power from the first 30 ms to the next (20 dB down; picked
/// notes at full speed lose 12 at most); a metronome's click, a knock and a plug do not, and count three octaves less.
const STRING_KEEPS: f32 = 0.01;
const BLIP: f64 = -3.0;
/// The threshold where nothing else is known, and its bounds; log2 of the evidence.
const USUAL_THRESHOLD: f64 = -2.8;
const LEAST_THRESHOLD: f64 = -5.5;
const MOST_THRESHOLD: f64 = -1.0;
/// Candidates are counted through a Gaussian of this standard deviation, octaves; the count rises with the square of
/// the distance from the usual threshold, by one candidate at an octave.
const SMOOTHING: f64 = 0.5;
/// Attacks of strength 0.25 and up, in order of time. `candidates` are those of the whole take, `opening` is its first
/// sound, `ms` the samples to a millisecond.
pub(crate) fn decide(mut candidates: Vec<Candidate>, opening: Option<Candidate>, ms: f64) -> Vec<Attack> {
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
    let evidence: Vec<f64> = candidates.iter().map(|c| evidence(c, usual, loud)).collect();
    let threshold = threshold(&evidence);
    let mut strengths: Vec<f64> = evidence.iter().map(|e| (e - threshold).exp2()).collect();
    appeal::hear(&candidates, &mut strengths, ms);
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

/// log2 of the evidence: the rise against what the take's notes usually show and against nothing (half each), a
/// little for a transient, a factor 2 for every 20 dB of softness.
fn evidence(c: &Candidate, usual: f64, loud: f64) -> f64 {
    let softer_db = (10.0 * (f64::from(c.power) / loud).max(1e-20).log10()).min(0.0);
    if softer_db < SOFTEST_DB {
        return f64::NEG_INFINITY;
    }
    let blip = if c.decay.lasting < STRING_KEEPS { BLIP } else { 0.0 };
    blip + f64::from(c.rise).log2() - 0.5 * usual.log2()
        + 0.25 * (f64::from(c.transient) + 0.05).log2()
        + softer_db / 20.0
}

/// Where the fewest candidates are.
fn threshold(evidence: &[f64]) -> f64 {
    const STEPS: usize = 60;
    let mut best = (f64::MAX, USUAL_THRESHOLD);
    for i in 0..=STEPS {
        let here = LEAST_THRESHOLD + (MOST_THRESHOLD - LEAST_THRESHOLD) * i as f64 / STEPS as f64;
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
        let t = threshold(&two(-4.5, 0.5));
        assert!((-3.2..-1.0).contains(&t), "{t}");
        let t = threshold(&two(-7.0, -1.5));
        assert!((-5.5..-2.9).contains(&t), "{t}");
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
