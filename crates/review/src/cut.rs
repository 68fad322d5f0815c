//! Drills cut from a drill: the notes around one spot, looped so that every turn has the same strokes.

use takegauge_drill::{Drill, GridNote, Picking, Step, Stroke};
use takegauge_units::Bpm;

/// Notes on either side of a change that go into its loop.
const EITHER_SIDE: usize = 3;

/// About how many notes a cut drill asks for.
const NOTES: usize = 96;

/// The change that arrives at step `position`, with up to three notes of its two strings on either side, looped.
/// `None` where there is no change between two picked notes.
pub(crate) fn change_loop(drill: &Drill, grid: &[GridNote], position: usize, tempo: f64) -> Option<Drill> {
    let at = grid.iter().position(|g| g.position == position && g.change.is_some_and(|c| c.kind.is_some()))?;
    let arriving = grid.get(at)?;
    let change = arriving.change?;
    let usable = |g: &&GridNote, string: u8| g.picked() && g.fingered.len() == 1 && g.string() == string;
    let first_of_new = |g: &GridNote| g.after_gap && g.index != arriving.index;
    let mut left: Vec<&GridNote> = Vec::new();
    for g in grid.get(..at)?.iter().rev().take(EITHER_SIDE).take_while(|g| usable(g, change.from)) {
        left.push(g);
        if first_of_new(g) {
            break;
        }
    }
    left.reverse();
    let follows = |g: &&GridNote| usable(g, change.to) && !first_of_new(g);
    let mut right: Vec<&GridNote> = grid.get(at..)?.iter().take(EITHER_SIDE).take_while(follows).collect();
    // An even count keeps the strokes of every turn alike.
    if (left.len() + right.len()) % 2 == 1 {
        if left.len() > right.len() {
            left.remove(0);
        } else {
            right.pop();
        }
    }
    if left.is_empty() || right.is_empty() {
        return None;
    }
    let notes: Vec<&GridNote> = left.into_iter().chain(right).collect();
    let name = format!("From string {} to {}, looped", change.from, change.to);
    build(drill, &notes, name, tempo)
}

/// The longest run of notes for which `wanted` holds, two notes at least, looped.
pub(crate) fn run_loop(
    drill: &Drill,
    grid: &[GridNote],
    wanted: impl Fn(&GridNote) -> bool,
    name: &str,
    tempo: f64,
) -> Option<Drill> {
    let usable = |g: &GridNote| g.repeat == 0 && g.picked() && g.fingered.len() == 1 && wanted(g);
    let runs = grid.chunk_by(|a, b| usable(a) && usable(b) && !b.after_gap && a.string() == b.string());
    let longest = runs.filter(|r| r.first().is_some_and(&usable)).max_by_key(|r| r.len())?;
    let even = longest.len() / 2 * 2;
    let notes: Vec<&GridNote> = longest.iter().take(even.min(8)).collect();
    build(drill, &notes, name.to_owned(), tempo)
}

/// The whole line at another tempo.
pub(crate) fn whole(drill: &Drill, tempo: f64) -> Drill {
    Drill { tempo: Bpm(tempo), ..drill.clone() }
}

fn build(drill: &Drill, notes: &[&GridNote], name: String, tempo: f64) -> Option<Drill> {
    let written = drill.picking != Picking::Alternate;
    let steps: Vec<Step> = notes
        .iter()
        .filter_map(|g| match drill.line.get(g.position)? {
            Step::Note(n) => {
                let mut n = n.clone();
                n.written_stroke = if written { g.stroke } else { None };
                n.way_back = false;
                Some(Step::Note(n))
            }
            _ => None,
        })
        .collect();
    if steps.len() < 2 || steps.len() != notes.len() {
        return None;
    }
    Some(Drill {
        name,
        note: String::new(),
        tempo: Bpm(tempo),
        pickup_steps: 0,
        repeats: (NOTES / steps.len()).max(1) as u32,
        picking: if written { Picking::Written } else { Picking::Alternate },
        first_stroke: notes.first().and_then(|g| g.stroke).unwrap_or(Stroke::Down),
        line: steps,
        bars: Vec::new(),
        divisions: Vec::new(),
        ..drill.clone()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::drill;

    /// A cut drill is a drill file that reads back, and its change is the one it was cut for.
    #[test]
    fn the_change_cut_out_keeps_its_kind_in_every_turn() {
        let d = drill("6:3 6:5 6:7 5:3 5:5 5:7 4:5 4:7 4:5 5:7 5:5 5:3 6:7 6:5", 2);
        let grid = d.grid();
        for position in [3, 6, 9, 12] {
            let asked = grid.iter().find(|g| g.position == position).unwrap().change.unwrap();
            let cut = change_loop(&d, &grid, position, 120.0).unwrap();
            let read = Drill::parse(&cut.to_toml(), "cut.toml").unwrap();
            let of_pair: Vec<_> = read
                .grid()
                .iter()
                .filter_map(|g| g.change)
                .filter(|c| (c.from, c.to) == (asked.from, asked.to))
                .map(|c| c.kind)
                .collect();
            assert!(of_pair.len() >= 15 && of_pair.iter().all(|k| *k == asked.kind), "{position}: {of_pair:?}");
        }
    }

    #[test]
    fn the_seam_and_single_notes_can_be_cut_too() {
        let d = drill("6:3 5:3 4:3 5:3", 3);
        let grid = d.grid();
        for position in 0..4 {
            let cut = change_loop(&d, &grid, position, 100.0).unwrap();
            assert_eq!(Drill::parse(&cut.to_toml(), "cut.toml").unwrap().notes_in_line(), 2);
        }
        assert!(run_loop(&d, &grid, |g| g.string() == 6, "x", 100.0).is_none());
    }
}
