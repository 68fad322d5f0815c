//! How much speaks for an attack at a candidate.
//!
//! Two looks. The first sees the candidate alone: how it rises out of what sounded, how loud it is. The second weighs
//! that together with what the locator thinks of it, whether it is a tone, and the first look at its neighbours: a
//! ringing string beats, a hand makes noise before and after a stroke, and what is near a stronger one is seldom a note.
//! All are logarithms, so that evidence adds; the weights of the second look are fitted.

use crate::candidate::Candidate;
use crate::tuning::evidence::{
    BLIP, CHANCE, HALVES_DB, NO_TRANSIENT, ODDS, PITCHED, SOFTEST_DB, STANDS_OUT, STRING_KEEPS, STRONGER_AFTER,
    STRONGER_AT_MOST, STRONGER_BEFORE, STRONGER_NEAR_MS, TRANSIENT_SHARE, USUAL_SHARE,
};
use crate::tuning::pitch::STEPS_PER_OCTAVE;
use takegauge_stats::robust::upper_median;
use takegauge_units::PitchEvidence;

/// How many values are weighed.
pub const TERMS: usize = 5;

/// What is weighed of a candidate, for those who fit the weights anew.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighed {
    /// Samples of the take from its start.
    pub at: f64,
    /// How it stands out by itself; the chance of an attack as far as it is below even; by how much a neighbour before
    /// and one after stands out more; how much of a tone it is. Octaves.
    pub terms: [f64; TERMS],
}

/// What is weighed of each of `candidates`, which are in order of time; `usual` is the take's usual rise, `loud` the
/// power of its loud notes, `ms` the samples to a millisecond.
pub(crate) fn weigh(candidates: &[Candidate], usual: f64, loud: f64, ms: f64) -> Vec<Weighed> {
    let alone: Vec<f64> = candidates.iter().map(|c| standing_out(c, usual, loud)).collect();
    let (within, most) = (STRONGER_NEAR_MS * ms, STRONGER_AT_MOST);
    let more = |i: usize, j: usize| (alone[j] - alone[i]).clamp(0.0, most);
    let near = |i: usize, j: &usize| (candidates[*j].at - candidates[i].at).abs() < within;
    let weighed = candidates.iter().enumerate().map(|(i, c)| {
        let before = (0..i).rev().take_while(|j| near(i, j)).map(|j| more(i, j)).fold(0.0, f64::max);
        let after = (i + 1..candidates.len()).take_while(|j| near(i, j)).map(|j| more(i, j)).fold(0.0, f64::max);
        Weighed { at: c.at, terms: [alone[i], below_even(c.attack), before, after, tone(&c.pitch)] }
    });
    weighed.collect()
}

impl Weighed {
    /// The evidence, octaves: 0 is where a candidate of a usual take counts as an attack.
    pub(crate) fn evidence(&self) -> f64 {
        let weights = [STANDS_OUT, CHANCE, STRONGER_BEFORE, STRONGER_AFTER, PITCHED];
        // What is out of the question stays so: no other term makes up for it.
        if self.terms[0] == f64::NEG_INFINITY {
            return f64::NEG_INFINITY;
        }
        ODDS + self.terms.iter().zip(weights).map(|(t, w)| t * w).sum::<f64>()
    }

    /// How much of the evidence the neighbours took, octaves, 0 or more.
    pub(crate) fn lost_to_neighbours(&self) -> f64 {
        -(STRONGER_BEFORE * self.terms[2] + STRONGER_AFTER * self.terms[3])
    }
}

/// How it stands out by itself: the rise against what the take's notes usually show and against nothing (half each), a
/// little for a transient, a factor 2 for every 20 dB of softness.
fn standing_out(c: &Candidate, usual: f64, loud: f64) -> f64 {
    let softer_db = (10.0 * (f64::from(c.power) / loud).max(1e-20).log10()).min(0.0);
    if softer_db < SOFTEST_DB {
        return f64::NEG_INFINITY;
    }
    let blip = if c.decay.lasting < STRING_KEEPS { BLIP } else { 0.0 };
    blip + f64::from(c.rise).log2() - USUAL_SHARE * usual.log2()
        + TRANSIENT_SHARE * (f64::from(c.transient) + NO_TRANSIENT).log2()
        + softer_db / HALVES_DB
}

/// The odds of a chance below one half.
fn below_even(chance: f64) -> f64 {
    let chance = chance.clamp(1e-6, 0.5);
    (chance / (1.0 - chance)).log2()
}

/// How far the best pitch explains a sound better than a middling one: noise has none.
fn tone(pitch: &PitchEvidence) -> f64 {
    let values = || pitch.0.iter().map(|v| f64::from(*v));
    let best = values().fold(0.0, f64::max);
    (best - upper_median(values()).unwrap_or(0.0)) / f64::from(STEPS_PER_OCTAVE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decay::Decay;

    const MS: f64 = 48.0;

    fn candidate(at_ms: f64, rise: f32) -> Candidate {
        Candidate {
            at: at_ms * MS,
            uncertainty_ms: 0.1,
            attack: 0.9,
            rise,
            transient: 0.5,
            power: 0.1,
            decay: Decay { lasting: 0.9, residual_ratio: 0.7, added: 100.0 },
            peak: 1.0,
            pitch: PitchEvidence::NONE,
        }
    }

    #[test]
    fn a_stronger_neighbour_speaks_against_as_far_as_it_is_near() {
        let all = [(0.0, 1.0), (20.0, 0.25), (60.0, 0.5), (90.0, 1.0)].map(|(at, rise)| candidate(at, rise));
        let weighed = weigh(&all, 1.0, 0.1, MS);
        let stronger: Vec<[f64; 2]> = weighed.iter().map(|w| [w.terms[2], w.terms[3]]).collect();
        assert_eq!(stronger, [[0.0, 0.0], [2.0, 1.0], [0.0, 1.0], [0.0, 0.0]]);
        assert_eq!(weighed[0].lost_to_neighbours(), 0.0);
        assert!((weighed[2].lost_to_neighbours() + STRONGER_AFTER).abs() < 1e-9);
        assert!(weighed[1].evidence() < weighed[2].evidence() && weighed[2].evidence() < weighed[3].evidence());
    }

    #[test]
    fn what_the_locator_doubts_and_what_is_no_tone_counts_less() {
        let sure = candidate(0.0, 1.0);
        let mut tone = PitchEvidence::NONE;
        tone.0[30] = 120;
        let of = |c: Candidate| weigh(&[c], 1.0, 0.1, MS)[0];
        // Odds of 1 to 4: two octaves below even.
        let doubted = of(Candidate { attack: 0.2, ..sure });
        assert!((doubted.terms[1] + 2.0).abs() < 1e-9 && doubted.evidence() < of(sure).evidence());
        assert_eq!(of(Candidate { attack: 0.5, ..sure }).evidence(), of(sure).evidence());
        let pitched = of(Candidate { pitch: tone, ..sure });
        assert!((pitched.terms[4] - 5.0).abs() < 1e-9 && pitched.evidence() > of(sure).evidence());
    }

    #[test]
    fn the_noise_floor_is_out_of_the_question() {
        let faint = Candidate { power: 1e-6, ..candidate(0.0, 8.0) };
        assert_eq!(weigh(&[faint], 1.0, 0.1, MS)[0].evidence(), f64::NEG_INFINITY);
        assert!(weigh(&[], 1.0, 0.1, MS).is_empty());
    }
}
