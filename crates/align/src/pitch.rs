//! Whether the guitar as a whole sounds off the drill's pitch, and whether a note sounds at another one.

use crate::cost::Posterior;
use crate::line::Line;
use takegauge_drill::GridNote;
use takegauge_units::{Attack, FIRST_KEY, KEYS, MidiKey};

/// Semitones either way that a guitar may be off as a whole; further off it is another drill or tuning.
const FURTHEST: i32 = 6;
/// How many times likelier another pitch must be than the expected one before a note is called wrong.
const WRONG_RATIO: f64 = 33.0;

/// Transpositions worth trying, none (0) first.
pub(crate) fn transpositions(attacks: &[Attack], line: &Line) -> Vec<i32> {
    let mut share = [0.0; KEYS];
    for slot in &line.slots {
        for key in &line.keysets[slot.keyset] {
            if let Some(s) = usize::from(key.0).checked_sub(usize::from(FIRST_KEY)).and_then(|i| share.get_mut(i)) {
                *s += 1.0 / (line.keysets[slot.keyset].len() * line.slots.len()) as f64;
            }
        }
    }
    let mut fits = [0.0; 2 * FURTHEST as usize + 1];
    for a in attacks.iter().filter(|a| a.strength >= 1.0) {
        let posterior = Posterior::of(a);
        for (fit, by) in fits.iter_mut().zip(-FURTHEST..) {
            let any: f64 = (0..).zip(&share).map(|(i, s)| s * posterior.ratio(i + i32::from(FIRST_KEY) + by)).sum();
            // One attack in ten may be anything.
            *fit += (0.1 + 0.9 * any).ln();
        }
    }
    let as_written = fits[FURTHEST as usize];
    let mut better: Vec<(f64, i32)> =
        fits.iter().zip(-FURTHEST..).filter(|(f, _)| **f > as_written + 3.0).map(|(f, by)| (*f, by)).collect();
    better.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.abs().cmp(&b.1.abs())));
    std::iter::once(0).chain(better.into_iter().take(2).map(|b| b.1)).collect()
}

/// What an attack taken for `note` tells about its pitch: the key heard, and whether it is another one. The key is
/// the drill's own where the guitar sounds `transpose` semitones above it.
pub(crate) fn heard(attack: &Attack, note: &GridNote, transpose: i32) -> (Option<MidiKey>, bool) {
    let Some(first) = note.keys.first().filter(|_| !note.dead) else { return (None, false) };
    let posterior = Posterior::of(attack);
    let expected = note.keys.iter().map(|k| posterior.ratio(i32::from(k.0) + transpose)).fold(0.0, f64::max);
    let Some(best) = attack.pitch.best() else { return (None, false) };
    let top = posterior.ratio(i32::from(best.0));
    let at_own_pitch = u8::try_from(i32::from(best.0) - transpose).ok().map(MidiKey);
    if top > WRONG_RATIO * expected {
        (at_own_pitch, true)
    } else if note.keys.iter().any(|k| Some(*k) == at_own_pitch) {
        (at_own_pitch, false)
    } else {
        (Some(*first).filter(|_| top < 2.0 * expected), false)
    }
}
