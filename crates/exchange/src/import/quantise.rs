//! From notes with times to steps: the coarsest grid on which everything falls, else the nearest.
//!
//! Times are in [`TICKS`] a beat.

use takegauge_drill::timing::TICKS;
use takegauge_drill::{LineNote, MAX_STEPS, Step};

/// A note (or several struck together) with its time.
#[derive(Debug, Clone)]
pub(super) struct Timed {
    pub(super) start: u64,
    pub(super) end: u64,
    pub(super) note: LineNote,
}

/// A line on a grid.
#[derive(Debug, Default)]
pub(super) struct Gridded {
    pub(super) steps: Vec<Step>,
    pub(super) steps_per_beat: u8,
    pub(super) divisions: Vec<(usize, u8)>,
    /// Notes that did not fall on the grid, and the furthest in ticks.
    pub(super) moved: (usize, u64),
    /// Notes that fell on a step that was taken.
    pub(super) dropped: usize,
    /// Step of each time asked for in `marks`.
    pub(super) marks: Vec<usize>,
}

/// A grid that the file itself asks for.
pub(super) struct Wish {
    pub(super) steps_per_beat: u8,
    pub(super) divisions: Vec<(usize, u8)>,
}

/// Puts notes, sorted by start, on a grid of `length` ticks. `offset` is the first beat's tick (a pickup's length).
pub(super) fn to_line(notes: &[Timed], length: u64, offset: u64, wish: Option<&Wish>, marks: &[u64]) -> Gridded {
    let length = length.max(1);
    let edges: Vec<u64> = notes.iter().flat_map(|n| [n.start, n.end.min(length)]).chain([0, length]).collect();
    let wished = wish.and_then(|w| {
        let starts = wished_starts(w, length)?;
        edges.iter().all(|e| starts.0.binary_search(e).is_ok()).then_some((starts, w))
    });
    let (starts, steps_per_beat, divisions) = match wished {
        Some(((starts, _), w)) => (starts, w.steps_per_beat, w.divisions.clone()),
        None => free_starts(&edges, length, offset % TICKS),
    };
    fill(notes, &starts, Gridded { steps_per_beat, divisions, ..Gridded::default() }, marks)
}

/// The one grid of so many steps a beat, for files without note values.
pub(super) fn to_even_line(notes: &[Timed], length: u64, steps_per_beat: u8) -> Gridded {
    let step = TICKS / u64::from(steps_per_beat.max(1));
    let count = (length.div_ceil(step).max(1) as usize).min(MAX_STEPS);
    let starts: Vec<u64> = (0..=count as u64).map(|i| i * step).collect();
    fill(notes, &starts, Gridded { steps_per_beat, ..Gridded::default() }, &[])
}

fn wished_starts(wish: &Wish, length: u64) -> Option<(Vec<u64>, ())> {
    let mut starts = vec![0];
    let (mut now, mut division) = (0, wish.steps_per_beat.clamp(1, 12));
    let mut changes = wish.divisions.iter().peekable();
    while now < length {
        while let Some((_, n)) = changes.next_if(|c| c.0 < starts.len()) {
            division = (*n).clamp(1, 12);
        }
        now += TICKS / u64::from(division);
        starts.push(now);
        if starts.len() > MAX_STEPS {
            return None;
        }
    }
    Some((starts, ()))
}

/// One subdivision for the whole line where a plain one does, else the smallest that does beat by beat.
fn free_starts(edges: &[u64], length: u64, offset: u64) -> (Vec<u64>, u8, Vec<(usize, u8)>) {
    // Beats are counted from `offset`; shifting by whole beats keeps all ticks positive.
    let phase = |e: u64| (e + TICKS - offset) % TICKS;
    let fits = |n: u8, some: &[u64]| some.iter().all(|e| phase(*e).is_multiple_of(TICKS / u64::from(n)));
    let whole = [1u8, 2, 3, 4, 6, 8, 5, 7].into_iter().find(|n| fits(*n, edges));
    let mut starts = vec![0];
    let mut divisions = Vec::new();
    let mut in_force = whole.unwrap_or(4);
    let steps_per_beat = in_force;
    let mut sorted = edges.to_vec();
    sorted.sort_unstable();
    let mut now = 0;
    while now < length && starts.len() < MAX_STEPS {
        let next_beat = (now + TICKS - phase(now)).min(length.max(now + 1));
        if whole.is_none() {
            let within = &sorted[sorted.partition_point(|e| *e < now)..sorted.partition_point(|e| *e < next_beat)];
            if !within.is_empty() {
                let n = [4, 1, 2, 3, 5, 6, 7, 8, 9, 10, 11, 12].into_iter().find(|n| fits(*n, within)).unwrap_or(12);
                if n != in_force {
                    divisions.push((starts.len() - 1, n));
                    in_force = n;
                }
            }
        }
        let step = TICKS / u64::from(in_force);
        let mut step_end = now + step - phase(now) % step;
        while step_end < next_beat && starts.len() < MAX_STEPS {
            starts.push(step_end);
            step_end += step;
        }
        now = next_beat.max(now + 1);
        starts.push(now);
    }
    (starts, steps_per_beat, divisions)
}

fn nearest(starts: &[u64], tick: u64) -> usize {
    let after = starts.partition_point(|s| *s < tick).min(starts.len().saturating_sub(1));
    let before = after.saturating_sub(1);
    let distance = |i: usize| starts.get(i).map_or(u64::MAX, |s| s.abs_diff(tick));
    if distance(before) <= distance(after) { before } else { after }
}

fn fill(notes: &[Timed], starts: &[u64], mut line: Gridded, marks: &[u64]) -> Gridded {
    let count = starts.len().saturating_sub(1);
    let mut steps = vec![Step::Silent; count];
    let mut free_from = 0;
    for timed in notes {
        let at = nearest(starts, timed.start);
        let off = starts.get(at).map_or(0, |s| s.abs_diff(timed.start));
        if off > 0 {
            line.moved.0 += 1;
            line.moved.1 = line.moved.1.max(off);
        }
        if at >= count || at < free_from {
            line.dropped += 1;
            continue;
        }
        // A note that rings into this one ends here.
        steps[at] = Step::Note(timed.note.clone());
        free_from = at + 1;
        let end = nearest(starts, timed.end).clamp(at + 1, count);
        for step in &mut steps[at + 1..end] {
            *step = Step::Held;
        }
        for step in &mut steps[end..] {
            if *step == Step::Silent {
                break;
            }
            *step = Step::Silent;
        }
    }
    line.steps = steps;
    line.marks = marks.iter().map(|m| nearest(starts, *m)).collect();
    line
}

/// Folds a line that is the same again and again into one playing and its repeats.
pub(super) fn fold(steps: &mut Vec<Step>, divisions: &[(usize, u8)]) -> u32 {
    if !divisions.is_empty() {
        return 1;
    }
    let n = steps.len();
    for repeats in (2..=n.min(1000)).rev() {
        let period = n / repeats;
        if n.is_multiple_of(repeats)
            && matches!(steps.first(), Some(Step::Note(_)))
            && (period..n).all(|i| steps.get(i) == steps.get(i - period))
        {
            steps.truncate(period);
            return repeats as u32;
        }
    }
    1
}
