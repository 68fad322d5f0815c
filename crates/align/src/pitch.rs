//! Whether the guitar as a whole sounds off the drill's pitch, and whether a note sounds at another one.

use crate::cost::Posterior;
use crate::line::Line;
use crate::tuning::pitch::{ANYTHING, CLEARLY, FURTHEST, MOST_OTHERS, SAMPLE, WRONG_BY, WRONG_ODDS};
use takegauge_drill::GridNote;
use takegauge_units::{Attack, FIRST_KEY, KEYS, MidiKey};

/// Transpositions worth trying, none (0) first: by the likelihood of the attacks' evidence were they the drill's notes
/// in any order.
pub(crate) fn transpositions(attacks: &[Attack], line: &Line) -> Vec<i32> {
    let mut share = [0.0; KEYS];
    for slot in &line.slots {
        for key in &line.keysets[slot.keyset] {
            if let Some(s) = usize::from(key.0).checked_sub(usize::from(FIRST_KEY)).and_then(|i| share.get_mut(i)) {
                *s += 1.0 / (line.keysets[slot.keyset].len() * line.slots.len()) as f64;
            }
        }
    }
    let dead = (1.0 - share.iter().sum::<f64>()).max(0.0);
    let strong: Vec<&Attack> = attacks.iter().filter(|a| a.strength >= 1.0).collect();
    let mut fits = [0.0; 2 * FURTHEST as usize + 1];
    for a in strong.iter().step_by(strong.len().div_ceil(SAMPLE).max(1)) {
        let posterior = Posterior::of(a);
        for (fit, by) in fits.iter_mut().zip(-FURTHEST..) {
            let keys = (i32::from(FIRST_KEY)..).zip(&share).filter(|(_, s)| **s > 0.0);
            let any: f64 = keys.map(|(key, s)| s * posterior.ratio(key + by)).sum();
            *fit += (ANYTHING + (1.0 - ANYTHING) * (any + dead)).ln();
        }
    }
    let as_written = fits[FURTHEST as usize];
    let mut better: Vec<(f64, i32)> =
        fits.iter().copied().zip(-FURTHEST..).filter(|(f, _)| *f > as_written + CLEARLY).collect();
    better.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.abs().cmp(&b.1.abs())));
    std::iter::once(0).chain(better.into_iter().take(MOST_OTHERS).map(|b| b.1)).collect()
}

/// What an attack taken for `note` tells about its pitch: the key heard, and whether it is another one. The key is
/// the drill's own where the guitar sounds `transpose` semitones above it.
pub(crate) fn heard(attack: &Attack, note: &GridNote, transpose: i32) -> (Option<MidiKey>, bool) {
    let Some(first) = note.keys.first().filter(|_| !note.dead) else { return (None, false) };
    let posterior = Posterior::of(attack);
    let ratio = |key: i32| posterior.ratio(key + transpose);
    let expected = note.keys.iter().map(|k| ratio(i32::from(k.0))).fold(0.0, f64::max);
    let others = WRONG_BY.map(|by| i32::from(first.0) + by);
    let others = others.iter().filter(|o| !note.keys.iter().any(|k| i32::from(k.0) == **o));
    let any_other = others.clone().map(|o| ratio(*o)).sum::<f64>() / WRONG_BY.len() as f64;
    if WRONG_ODDS * any_other > expected {
        let best = others.max_by(|a, b| ratio(**a).total_cmp(&ratio(**b)));
        return (best.and_then(|k| u8::try_from(*k).ok()).map(MidiKey), true);
    }
    // Confirmed only where the evidence speaks for it.
    (Some(*first).filter(|_| expected > any_other), false)
}
