//! How many notes went wrong, and how many may at most: counted in notes.

use std::collections::BTreeMap;
use takegauge_measure::Measured;
use takegauge_stats::intervals::rate_upper_limit;

use crate::estimates::CONFIDENCE;
use crate::round::milli;
use crate::score::Reliability;
use crate::take::Judged;

/// `repeat_notes` is how many picked notes the line holds.
pub(crate) fn reliability(
    notes: &[Judged],
    measured: &Measured,
    repeat_notes: usize,
    drill_notes: usize,
) -> Reliability {
    let picked: Vec<&Judged> = notes.iter().filter(|n| n.grid.picked()).collect();
    let wrong = picked.iter().filter(|n| n.missed() || n.wrong()).count();
    let errors = wrong + measured.extra.len();
    let n = picked.len();
    let mut blocks: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
    for note in &picked {
        let b = blocks.entry(note.block).or_default();
        b.0 += 1;
        b.1 += usize::from(note.missed() || note.wrong()) + note.extras_before;
    }
    let whole: Vec<&(usize, usize)> = blocks.values().filter(|b| b.0 >= repeat_notes && repeat_notes > 0).collect();
    let clean = whole.iter().filter(|b| b.1 == 0).count();
    let whole_passes = (0..measured.alignment.passes.len())
        .filter(|p| drill_notes > 0 && picked.iter().filter(|n| n.pass == *p).count() >= drill_notes)
        .count();
    // An extra attack is an error of the note it precedes: a rate cannot exceed 1.
    let at_most = rate_upper_limit(errors.min(n), n, CONFIDENCE).ok().and_then(|r| milli(100.0 * r));
    let text = match at_most {
        Some(limit) => format!(
            "{errors} of {n} notes went wrong: this take supports at most {limit:.1} wrong in 100 notes (95 %). {}",
            repeats(clean, whole.len())
        ),
        None => "No note was reached.".to_owned(),
    };
    Reliability {
        errors,
        notes: n,
        at_most_in_100: at_most,
        clean_repeats: clean,
        repeats: whole.len(),
        whole_passes,
        text,
    }
}

/// How many of the repeats that were played whole had no error.
fn repeats(clean: usize, whole: usize) -> String {
    match whole {
        0 => "No repeat was played whole.".to_owned(),
        1 if clean == 1 => "The one whole repeat was clean.".to_owned(),
        1 => "The one whole repeat was not clean.".to_owned(),
        _ => format!("{clean} of {whole} whole repeats {} clean.", if clean == 1 { "was" } else { "were" }),
    }
}
