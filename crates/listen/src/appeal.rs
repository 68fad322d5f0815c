//! Second thoughts about candidates, when the threshold is known and with it each one's neighbours: what a knock or a
//! click gives itself away by, and which soft notes the threshold was too high for.

use crate::candidate::{Candidate, loud};
use crate::tuning::appeal::{
    APART_MS, CLICK_ADDS, CLICK_SOFTER_DB, CLUTTER, DOUBT, ENOUGH_APART, KNOCK_LEFT_DB, KNOCK_SOFTER_DB,
    KNOCK_UNUSUAL_DB, KNOCKS_AT_MOST, NOTHING_NEAR_MS,
};
use crate::tuning::decide::FAINTEST;
use takegauge_stats::robust::upper_median;

/// Lowers the strength of what is not an attack, raises that of attacks below the threshold (1). `candidates` are in
/// order of time, `ms` samples are a millisecond.
pub(crate) fn hear(candidates: &[Candidate], strengths: &mut [f64], ms: f64) {
    let heard = Heard::new(candidates, strengths, ms);
    let (knocks, clicks) = (heard.all(Heard::is_knock), heard.all(Heard::is_click));
    let on_purpose = knocks.len() as f64 > KNOCKS_AT_MOST * heard.accepted.len() as f64;
    let mut doubtful = if on_purpose { clicks } else { [knocks, clicks].concat() };
    doubtful.sort_unstable();
    doubtful.dedup();
    for i in doubtful {
        strengths[i] *= DOUBT.exp2();
    }
    for i in overlooked(candidates, strengths, ms) {
        strengths[i] /= ENOUGH_APART;
    }
}

/// The candidates above the threshold.
struct Heard<'a> {
    candidates: &'a [Candidate],
    ms: f64,
    accepted: Vec<usize>,
    /// Mean power of the loud ones.
    loud: f64,
    /// What is left of a usual one after 65 ms, dB.
    usually_left: f64,
}

impl<'a> Heard<'a> {
    fn new(candidates: &'a [Candidate], strengths: &'a [f64], ms: f64) -> Self {
        let accepted: Vec<usize> = (0..candidates.len()).filter(|i| strengths[*i] >= 1.0).collect();
        let loud = loud(accepted.iter().map(|i| &candidates[*i]));
        let left = accepted.iter().map(|i| db(f64::from(candidates[*i].decay.residual_ratio)));
        let usually_left = upper_median(left).unwrap_or(0.0);
        Self { candidates, ms, accepted, loud, usually_left }
    }

    /// The indices among the candidates of those that `is`, asked by index among the accepted.
    fn all(&self, is: fn(&Self, usize) -> bool) -> Vec<usize> {
        (0..self.accepted.len()).filter(|k| is(self, *k)).map(|k| self.accepted[k]).collect()
    }

    fn candidate(&self, k: usize) -> &Candidate {
        &self.candidates[self.accepted[k]]
    }

    /// Milliseconds from one to the next.
    fn gap_after(&self, k: usize) -> f64 {
        if k + 1 < self.accepted.len() {
            (self.candidate(k + 1).at - self.candidate(k).at) / self.ms
        } else {
            f64::INFINITY
        }
    }

    /// How loud it is beside the loud ones, dB, if what becomes of it can be told.
    fn level_apart(&self, k: usize) -> Option<f64> {
        (self.gap_after(k) > APART_MS).then(|| db(f64::from(self.candidate(k).power) / self.loud))
    }

    fn is_knock(&self, k: usize) -> bool {
        let left = db(f64::from(self.candidate(k).decay.residual_ratio));
        self.level_apart(k).is_some_and(|l| l < KNOCK_SOFTER_DB)
            && left < KNOCK_LEFT_DB
            && left < self.usually_left + KNOCK_UNUSUAL_DB
    }

    /// A click over what sounds.
    fn is_click(&self, k: usize) -> bool {
        self.level_apart(k).is_some_and(|l| l < CLICK_SOFTER_DB) && self.candidate(k).decay.added < CLICK_ADDS
    }
}

/// A ratio of powers in dB.
fn db(ratio: f64) -> f64 {
    10.0 * ratio.max(1e-20).log10()
}

/// The candidates below the threshold that are attacks, as clear as this take is and as far as they are from others.
fn overlooked(candidates: &[Candidate], strengths: &[f64], ms: f64) -> Vec<usize> {
    let (heard, unheard): (Vec<usize>, Vec<usize>) = (0..candidates.len()).partition(|i| strengths[*i] >= 1.0);
    let apart = |i: &usize| {
        let next = heard.partition_point(|h| h < i);
        let near =
            |h: Option<&usize>| h.is_some_and(|h| (candidates[*h].at - candidates[*i].at).abs() < NOTHING_NEAR_MS * ms);
        !near(heard.get(next)) && !near(next.checked_sub(1).and_then(|l| heard.get(l)))
    };
    let (enough, weak): (Vec<usize>, Vec<usize>) = unheard
        .into_iter()
        .filter(|i| strengths[*i] >= FAINTEST && apart(i))
        .partition(|i| strengths[*i] >= ENOUGH_APART);
    if weak.len() as f64 > CLUTTER * heard.len() as f64 { Vec::new() } else { enough }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decay::Decay;
    use takegauge_units::PitchEvidence;

    const STRING: Decay = Decay { lasting: 0.9, residual_ratio: 0.7, added: 100.0 };
    const MS: f64 = 48.0;

    fn candidate(at_ms: f64, level_db: f32, decay: Decay) -> Candidate {
        let power = 10f32.powf(level_db / 10.0);
        let (pitch, uncertainty_ms, attack) = (PitchEvidence::NONE, 0.1, 1.0);
        Candidate { at: at_ms * MS, uncertainty_ms, attack, rise: 0.5, transient: 0.5, power, decay, peak: 1.0, pitch }
    }

    /// Twenty loud notes a second apart, and `more` after the tenth with its strength.
    fn among_notes(more: &[(Candidate, f64)]) -> Vec<f64> {
        let mut all: Vec<(Candidate, f64)> =
            (0..20).map(|i| (candidate(1e3 * f64::from(i), 0.0, STRING), 5.0)).collect();
        all.splice(10..10, more.iter().copied());
        let (candidates, mut strengths): (Vec<_>, Vec<_>) = all.into_iter().unzip();
        hear(&candidates, &mut strengths, MS);
        assert!(strengths[..10].iter().chain(&strengths[10 + more.len()..]).all(|s| *s == 5.0));
        strengths[10..10 + more.len()].to_vec()
    }

    #[test]
    fn knocks_and_clicks_that_stand_apart_count_less() {
        let knock = Decay { residual_ratio: 0.05, ..STRING };
        let click = Decay { added: 0.9, ..STRING };
        for (level, decay, kept) in [
            (-8.0, knock, false),
            // As loud as the notes: a choked string.
            (-2.0, knock, true),
            (-12.0, click, false),
            (-8.0, click, true),
            (-20.0, STRING, true),
        ] {
            let s = among_notes(&[(candidate(9_500.0, level, decay), 4.0)]);
            assert_eq!(s, [if kept { 4.0 } else { 0.5 }], "{level} dB, {decay:?}");
        }
        // Every fourth note damped: they are meant to be.
        let damped: Vec<(Candidate, f64)> =
            (0..6).map(|i| (candidate(9_200.0 + 130.0 * f64::from(i), -8.0, knock), 4.0)).collect();
        assert_eq!(among_notes(&damped), [4.0; 6]);
        assert_eq!(among_notes(&damped[..4]), [0.5; 4]);
        // The next note may have cut it short.
        assert_eq!(among_notes(&[(candidate(9_900.0, -8.0, knock), 4.0)]), [4.0]);
    }

    #[test]
    fn in_a_take_of_damped_strings_a_damped_note_is_no_knock() {
        let damped = Decay { residual_ratio: 0.05, ..STRING };
        let candidates: Vec<Candidate> =
            (0..20).map(|i| candidate(1e3 * f64::from(i), if i % 4 == 0 { -8.0 } else { 0.0 }, damped)).collect();
        let mut strengths = vec![2.0; 20];
        hear(&candidates, &mut strengths, MS);
        assert_eq!(strengths, [2.0; 20]);
    }

    #[test]
    fn soft_notes_are_heard_in_clear_takes_only() {
        let soft = |ms: f64| candidate(ms, -15.0, STRING);
        let s = among_notes(&[(soft(9_200.0), 0.3), (soft(9_500.0), 0.8), (soft(9_980.0), 0.8)]);
        assert!((s[1] - 0.8 * 2f64.sqrt()).abs() < 1e-9 && s[0] == 0.3 && s[2] == 0.8, "{s:?}");
        let noises: Vec<_> =
            (0..5).map(|i| (soft(9_100.0 + 100.0 * f64::from(i)), 0.4)).chain([(soft(9_700.0), 0.8)]).collect();
        assert_eq!(among_notes(&noises)[5], 0.8);
    }
}
