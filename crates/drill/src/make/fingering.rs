//! Which frets of a scale lie under the hand.

use super::options::{MakeOptions, refuse};
use crate::{Drill, DrillError, Fingered, MAX_FRET, Step};
use takegauge_units::MidiKey;

/// The highest fret that is made.
const HIGHEST: u8 = 24;

/// So many notes of the scale on a string, rising, within the hand's span, as near to its position as can be.
/// Open strings are free: at position 0 they lie under every hand.
pub(super) fn run(options: &MakeOptions, string: u8, count: u8) -> Result<Vec<Fingered>, DrillError> {
    let open = options.tuning.string(string).map_or(0, |k| k.0);
    let in_scale = |fret: &u8| open.checked_add(*fret).is_some_and(|k| k <= 127 && options.scale.has(MidiKey(k)));
    let frets: Vec<u8> = (0..=HIGHEST.min(MAX_FRET)).filter(in_scale).collect();
    let fits = |w: &&[u8]| {
        let lowest_fretted = w.iter().find(|f| **f > 0).copied().unwrap_or(0);
        w.last().copied().unwrap_or(0).saturating_sub(lowest_fretted) <= options.span
    };
    // The hand's place is its lowest fretted note; below the position is further away than above it.
    let away = |w: &&[u8]| {
        let lowest = w.first().copied().unwrap_or(0);
        let distance = i32::from(lowest) - i32::from(options.position);
        if distance < 0 { -2 * distance } else { 2 * distance - 1 }
    };
    let best = frets.windows(usize::from(count)).filter(fits).min_by_key(away);
    match best {
        Some(window) => Ok(window.iter().map(|fret| Fingered { string, fret: *fret }).collect()),
        None => {
            let most = (1..count).rev().find(|n| frets.windows(usize::from(*n)).any(|w| fits(&w))).unwrap_or(0);
            let allowed = format!(
                "at most {most} notes of {} on string {string} within {} frets; a wider span allows more",
                options.scale.name(),
                options.span
            );
            refuse("notes a string", count.to_string(), allowed)
        }
    }
}

/// How often the hand must move to keep every fretted note within its span, moving as late as it can.
pub(super) fn shifts(drill: &Drill, span: u8) -> usize {
    let mut hand: Option<(u8, u8)> = None;
    let mut shifts = 0;
    for step in &drill.line {
        let Step::Note(note) = step else { continue };
        for fret in note.fingered.iter().map(|f| f.fret).filter(|f| *f > 0) {
            let (low, high) = hand.map_or((fret, fret), |(l, h)| (l.min(fret), h.max(fret)));
            if high - low > span {
                shifts += 1;
                hand = Some((fret, fret));
            } else {
                hand = Some((low, high));
            }
        }
    }
    shifts
}
