//! Strokes that a file wrote, taken over as the picking rule they follow where there is one.

use super::imported::lose;
use takegauge_drill::{Drill, Picking, Step, Stroke};

/// Finds how the drill's line is picked from the strokes written on its notes. A rule that the file names
/// (`picking` already set) is kept where it gives those strokes; strokes that a rule does not give stay written.
pub(super) fn settle(drill: &mut Drill, rule_known: bool, losses: &mut Vec<String>) {
    let written: Vec<Option<Stroke>> = notes(drill).map(|n| n.written_stroke).collect();
    if written.iter().all(Option::is_none) {
        if !rule_known {
            lose(losses, "No strokes are written: alternate strokes from a downstroke are taken for granted.");
        }
        return;
    }
    let rules = if rule_known {
        vec![(drill.picking, drill.first_stroke)]
    } else {
        let first = written.iter().flatten().next().copied().unwrap_or(Stroke::Down);
        vec![(Picking::Alternate, first), (Picking::Down, Stroke::Down), (Picking::Economy, first)]
    };
    if rules == [(Picking::Written, drill.first_stroke)] {
        return;
    }
    for (picking, first_stroke) in &rules {
        let mut bare = Drill { picking: *picking, first_stroke: *first_stroke, ..drill.repeated(1) };
        for step in &mut bare.line {
            if let Step::Note(note) = step {
                note.written_stroke = None;
            }
        }
        let given: Vec<_> = bare.grid().iter().map(|n| n.stroke).collect();
        if given.iter().zip(&written).all(|(g, w)| w.is_none() || g == w) {
            let repeats = drill.repeats;
            *drill = Drill { repeats, ..bare };
            return;
        }
    }
    let all = notes(drill).all(|n| n.written_stroke.is_some() || n.sounding != takegauge_drill::Sounding::Picked);
    drill.picking = if all { Picking::Written } else { Picking::Alternate };
}

fn notes(drill: &Drill) -> impl Iterator<Item = &takegauge_drill::LineNote> {
    drill.line.iter().filter_map(|s| match s {
        Step::Note(n) => Some(n),
        _ => None,
    })
}
