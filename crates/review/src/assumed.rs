//! What a finding is worth without the notes after a slip, whose strokes are the drill's by assumption.

use crate::basis::{Basis, difference, scatter};
use crate::score::Measure;
use crate::words::count;

/// Of a finding this share must be left without the assumed notes, or it is said to hang on them.
const LEFT: f64 = 0.5;

/// Says so where a finding of `value` on `members` is gone or halved without those whose strokes are assumed; empty where it
/// is not. It is held against `others`.
pub(crate) fn hangs_on_assumed(
    basis: &Basis,
    members: &[usize],
    others: &[usize],
    value: f64,
    measure: Measure,
) -> String {
    let sure: Vec<usize> = members.iter().copied().filter(|&i| basis.notes[i].stroke_sure).collect();
    let assumed = members.len() - sure.len();
    if assumed == 0 {
        return String::new();
    }
    let sd = |of: &[usize]| scatter(basis, of).map(|s| s.within.variance).filter(|v| *v > 0.0).map(f64::sqrt);
    // A ratio of 1 is no finding at all.
    let (without, nothing, unit) = match measure {
        Measure::Spread => (sd(&sure).zip(sd(others)).map(|(a, b)| a / b), 1.0, "times the rest"),
        _ => (difference(basis.local, &sure, others).map(|e| e.value), 0.0, "ms"),
    };
    if without.is_some_and(|w| (w - nothing) / (value - nothing) >= LEFT) {
        return String::new();
    }
    format!(
        " It hangs on {} after a slip, whose strokes are an assumption: without them {}.",
        count(assumed, "note", "notes"),
        without.map_or_else(|| "too few are left".to_owned(), |w| format!("it is {w:.1} {unit}"))
    )
}
