//! What a drill's string changes add up to: counts by pair and kind, and on which stroke they leave.

use crate::{Change, ChangeKind, GridNote, Stroke};

/// Changes of one pair and kind over all repeats.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangeCount {
    /// The change they share; `after_gap` is false.
    pub change: Change,
    /// How many there are, those after a gap and on the way back not counted.
    pub count: usize,
    /// The steps of the line they arrive at, from 0, each once, ascending.
    pub positions: Vec<usize>,
}

/// The changes that count as tests, by pair and kind, in the order of string left, string reached, kind.
pub fn change_counts(grid: &[GridNote]) -> Vec<ChangeCount> {
    let mut counts: Vec<ChangeCount> = Vec::new();
    for (note, change) in counted(grid) {
        let found = match counts.iter_mut().find(|c| c.change == change) {
            Some(found) => found,
            None => {
                counts.push(ChangeCount { change, count: 0, positions: Vec::new() });
                let last = counts.len() - 1;
                &mut counts[last]
            }
        };
        found.count += 1;
        if let Err(at) = found.positions.binary_search(&note.position) {
            found.positions.insert(at, note.position);
        }
    }
    counts.sort_by_key(|c| (std::cmp::Reverse(c.change.from), std::cmp::Reverse(c.change.to), c.change.kind));
    counts
}

/// On which stroke the pick must come clear of the strings. A sweep needs no clearing and is not counted, nor is a
/// change after a gap or on the way back.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Leaving {
    /// Changes that leave on an upstroke.
    pub up: usize,
    /// Changes that leave on a downstroke.
    pub down: usize,
    /// Indices of the notes at whose change the leaving stroke is another than at the change before.
    pub flips: Vec<usize>,
}

/// Counts leaving strokes over all repeats.
pub fn leaving(grid: &[GridNote]) -> Leaving {
    let mut found = Leaving::default();
    let mut before: Option<Stroke> = None;
    for (note, change) in counted(grid) {
        let Some(stroke) = change.leaves_on.filter(|_| change.kind != Some(ChangeKind::Sweep)) else { continue };
        match stroke {
            Stroke::Up => found.up += 1,
            Stroke::Down => found.down += 1,
        }
        if before.is_some_and(|b| b != stroke) {
            found.flips.push(note.index);
        }
        before = Some(stroke);
    }
    found
}

fn counted(grid: &[GridNote]) -> impl Iterator<Item = (&GridNote, Change)> {
    grid.iter().filter(|n| !n.way_back).filter_map(|n| n.change.filter(|c| !c.after_gap).map(|c| (n, c)))
}

/// "outside", "inside", "sweep", "same stroke", or why there is no kind.
pub fn kind_words(kind: Option<ChangeKind>) -> &'static str {
    match kind {
        Some(ChangeKind::Outside) => "outside",
        Some(ChangeKind::Inside) => "inside",
        Some(ChangeKind::Sweep) => "sweep",
        Some(ChangeKind::SameStroke) => "same stroke again",
        None => "no kind (legato or struck together)",
    }
}

/// "a downstroke", "an upstroke".
pub fn stroke_words(stroke: Stroke) -> &'static str {
    match stroke {
        Stroke::Down => "a downstroke",
        Stroke::Up => "an upstroke",
    }
}

/// "never", "once", "3 times".
pub(crate) fn how_often(n: usize) -> String {
    match n {
        0 => "never".to_owned(),
        1 => "once".to_owned(),
        _ => format!("{n} times"),
    }
}

#[cfg(test)]
mod tests {
    use crate::{Drill, change_counts, leaving, named};

    #[test]
    fn leaving_strokes_as_counts() {
        let l = leaving(&named("two-a-string-box").unwrap().grid());
        assert_eq!((l.up, l.down, l.flips.len()), (89, 0, 0));
        let text =
            "name='t'\ntempo_bpm=90\nsteps_per_beat=4\ntuning='standard'\nline='5:1 5:2 5:3 4:1 4:2 4:3 3:1 3:2'";
        let l = leaving(&Drill::parse(text, "t").unwrap().grid());
        assert_eq!((l.up, l.down, l.flips), (1, 1, vec![6]));
    }

    #[test]
    fn counts_by_pair_and_kind() {
        let counts = change_counts(&named("outside-pair").unwrap().grid());
        let rows: Vec<_> = counts.iter().map(|c| (c.change.from, c.change.to, c.count)).collect();
        assert_eq!(rows, [(3, 2, 48), (2, 3, 47)]);
        assert_eq!(counts[0].positions, [1, 3, 5, 7, 9, 11, 13, 15]);
    }
}
