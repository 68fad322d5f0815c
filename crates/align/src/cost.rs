//! What each reading of an attack costs, as negative log-likelihoods against one reference: that the attack is
//! noodling, which comes as densely as the drill's notes do and at the drill's pitches in any order, or at others. A
//! path's total below zero is therefore
//! evidence for the drill, in natural-log units, and needs no further threshold than the price of stating where in
//! the take and in the drill it begins.

use crate::line::{Line, Slot};
use crate::tuning::cost::{
    EVIDENCE_SCALE, FAINT, HIGHEST_RATE, MISS_AGAIN, MISS_LEGATO, NOODLED_ANYHOW, PAUSE, PAUSE_LENGTH, POOR,
    USUAL_EXTRA, USUAL_MISS, USUAL_WEIGHT, USUAL_WRONG,
};
use crate::tuning::timing::{LN_T_PEAK, NU};
use takegauge_units::{Attack, FIRST_KEY, KEYS, MidiKey};

/// How often things go wrong in a take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Rates {
    /// Chance that a picked note reached is not heard.
    pub(crate) miss: f64,
    /// Attacks that are no notes, for each note of the drill.
    pub(crate) extra: f64,
    /// Chance that a note is played at, or heard as, any pitch at all.
    pub(crate) wrong: f64,
}

impl Rates {
    /// A prepared player's rates, before a take is known.
    pub(crate) fn usual() -> Self {
        Self { miss: USUAL_MISS, extra: USUAL_EXTRA, wrong: USUAL_WRONG }
    }

    /// A stumbling beginner's rates, for takes that make no sense at the usual ones.
    pub(crate) fn poor() -> Self {
        Self { miss: POOR, extra: POOR, wrong: POOR }
    }

    /// A take's own rates from counts over `notes` notes, drawn toward the usual ones and never beyond one in three.
    pub(crate) fn counted(notes: usize, missed: usize, extra: usize, wrong: usize) -> Self {
        let rate = |usual: f64, count: usize| {
            ((usual * USUAL_WEIGHT + count as f64) / (USUAL_WEIGHT + notes as f64)).min(HIGHEST_RATE)
        };
        Self { miss: rate(USUAL_MISS, missed), extra: rate(USUAL_EXTRA, extra), wrong: rate(USUAL_WRONG, wrong) }
    }
}

/// Costs of a take's attacks against one line at one transposition.
#[derive(Debug, Clone)]
pub(crate) struct Costs {
    /// Seconds, not samples.
    pub(crate) times: Vec<f64>,
    /// Variance of each time, s^2.
    pub(crate) variance: Vec<f64>,
    /// Whether leaving it out makes an extra.
    pub(crate) strong: Vec<bool>,
    pub(crate) rates: Rates,
    /// What accepting the attack as a note costs on top, by its strength.
    faint: Vec<f64>,
    /// attack x keyset: how many times likelier than a pitch at random the sound is, and the cost that follows.
    ratio: Vec<f32>,
    /// attack: the same were it noodling.
    noodling: Vec<f32>,
    pitch: Vec<f32>,
    keysets: usize,
}

impl Costs {
    /// `times` are the attacks' times, `transpose` is how many semitones the guitar sounds above the drill.
    pub(crate) fn new(attacks: &[Attack], times: Vec<f64>, line: &Line, transpose: i32) -> Self {
        let keysets = line.keysets.len();
        let mut share = vec![0.0; keysets];
        line.slots.iter().for_each(|s| share[s.keyset] += 1.0 / line.slots.len() as f32);
        let mut ratio = Vec::with_capacity(attacks.len() * keysets);
        let mut noodling = Vec::with_capacity(attacks.len());
        for a in attacks {
            let p = Posterior::of(a);
            let from = ratio.len();
            ratio.extend(line.keysets.iter().map(|keys| p.of_keys(keys, transpose) as f32));
            let alike: f32 = ratio[from..].iter().zip(&share).map(|(r, s)| r * s).sum();
            noodling.push(NOODLED_ANYHOW + (1.0 - NOODLED_ANYHOW) * alike);
        }
        let finite = |x: f64| if x.is_finite() { x } else { 0.0 };
        let costs = Self {
            times,
            variance: attacks.iter().map(|a| finite(a.uncertainty.seconds().0).powi(2)).collect(),
            strong: attacks.iter().map(|a| a.strength >= 1.0).collect(),
            rates: Rates::usual(),
            faint: attacks.iter().map(|a| FAINT * (1.0 - finite(f64::from(a.strength))).clamp(0.0, 1.0)).collect(),
            pitch: Vec::new(),
            ratio,
            noodling,
            keysets,
        };
        costs.at_rates(Rates::usual())
    }

    /// The same attacks where things go wrong at other rates.
    pub(crate) fn at_rates(mut self, rates: Rates) -> Self {
        let wrong = rates.wrong as f32;
        let per_attack = self.ratio.chunks(self.keysets.max(1)).zip(&self.noodling);
        self.pitch =
            per_attack.flat_map(|(r, n)| r.iter().map(move |r| -((wrong + (1.0 - wrong) * r) / n).ln())).collect();
        self.rates = rates;
        self
    }

    /// Of reading attack `i` as a note of the slot, its time not counted.
    pub(crate) fn sound(&self, i: usize, slot: &Slot) -> f64 {
        let legato = if slot.picked { 0.0 } else { -(1.0 - MISS_LEGATO).ln() };
        f64::from(self.pitch[i * self.keysets + slot.keyset]) + self.faint[i] + legato
    }

    /// How many times likelier the sound of attack `i` is by the slot's pitch than by any at random.
    pub(crate) fn likelier(&self, i: usize, slot: &Slot) -> f64 {
        f64::from(self.ratio[i * self.keysets + slot.keyset])
    }

    /// Of all attacks at the line's pitches in any order, against pitches at random, as a log-likelihood: the reference
    /// of [`Costs`] in terms that are the same for every line.
    pub(crate) fn any_order(&self) -> f64 {
        let strong = self.noodling.iter().zip(&self.strong).filter(|(_, strong)| **strong);
        strong.map(|(n, _)| f64::from(*n).ln()).sum()
    }

    /// Whether attack `i` sounds less like the slot than like any pitch at random.
    pub(crate) fn off_pitch(&self, i: usize, slot: &Slot) -> bool {
        self.ratio[i * self.keysets + slot.keyset] < 1.0
    }

    /// Of reading attack `i` as one that is no note, inside a pass.
    pub(crate) fn leave_out(&self, i: usize) -> f64 {
        if self.strong[i] { -self.rates.extra.ln() } else { 0.0 }
    }

    /// Of not hearing the slot's note; `again` where the one before was not heard either.
    pub(crate) fn miss(&self, slot: &Slot, again: bool) -> f64 {
        -(if !slot.picked {
            MISS_LEGATO
        } else if again {
            MISS_AGAIN.max(self.rates.miss)
        } else {
            self.rates.miss
        })
        .ln()
    }
}

/// Of a timing error of `e` seconds where its variance is `variance` s^2, against noodling at one note every
/// `usual_gap` seconds.
pub(crate) fn timing(e: f64, variance: f64, usual_gap: f64) -> f64 {
    let v = variance.max(1e-12);
    // ((NU + 1) ln(1 + x) + ln v) / 2 with one logarithm; NU + 1 is 6.
    let x = 1.0 + e * e / (NU * v);
    let cube = x * x * x;
    0.5 * (cube * cube * v / (usual_gap * usual_gap)).ln() - LN_T_PEAK
}

/// Of a hesitation that makes a note `late` seconds late.
pub(crate) fn pause(late: f64, usual_gap: f64) -> f64 {
    -PAUSE.ln() + late / (PAUSE_LENGTH * usual_gap)
}

/// How likely each pitch is, given an attack's evidence alone.
pub(crate) struct Posterior([f64; KEYS]);

impl Posterior {
    pub(crate) fn of(attack: &Attack) -> Self {
        let top = attack.pitch.0.iter().copied().max().unwrap_or(0);
        let mut p = attack.pitch.0.map(|v| (f64::from(i16::from(v) - i16::from(top)) / EVIDENCE_SCALE).exp());
        let sum: f64 = p.iter().sum();
        p.iter_mut().for_each(|x| *x *= KEYS as f64 / sum);
        Self(p)
    }

    /// How many times likelier than any pitch at random; 1 where the evidence does not reach.
    pub(crate) fn ratio(&self, key: i32) -> f64 {
        usize::try_from(key - i32::from(FIRST_KEY)).ok().and_then(|i| self.0.get(i)).copied().unwrap_or(1.0)
    }

    /// The same for notes struck together; 1 where there is no pitch to check.
    pub(crate) fn of_keys(&self, keys: &[MidiKey], transpose: i32) -> f64 {
        if keys.is_empty() {
            return 1.0;
        }
        keys.iter().map(|k| self.ratio(i32::from(k.0) + transpose)).sum::<f64>() / keys.len() as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student's t with 5 degrees of freedom, written out: gamma(3) = 2, gamma(2.5) = 1.329340388.
    fn student_density(x: f64) -> f64 {
        2.0 / ((5.0 * std::f64::consts::PI).sqrt() * 1.329_340_388) * (1.0 + x * x / 5.0).powi(-3)
    }

    #[test]
    fn timing_is_the_log_density_against_noodling() {
        for (e, sd, gap) in [(0.0, 0.01, 0.1), (0.025, 0.01, 0.1), (-0.3, 0.004, 0.25)] {
            let expected = -(student_density(e / sd) / sd * gap).ln();
            assert!((timing(e, sd * sd, gap) - expected).abs() < 1e-3, "{e}");
        }
    }

    #[test]
    fn rates_are_drawn_toward_the_usual_ones() {
        let (none, usual) = (Rates::counted(0, 0, 0, 0), Rates::usual());
        assert!((none.miss - usual.miss).abs() < 1e-12 && (none.wrong - usual.wrong).abs() < 1e-12);
        let poor = Rates::counted(1_000, 200, 900, 0);
        assert!((poor.miss - 0.195).abs() < 0.001 && poor.extra == 1.0 / 3.0 && poor.wrong < 0.001);
    }
}
