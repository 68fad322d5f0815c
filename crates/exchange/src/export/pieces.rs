//! The line cut into written note values: at bar lines, at changes of subdivision, and into lengths that one note
//! head can show. Pieces of one note are tied.

use takegauge_drill::timing::{TICKS, Timing};
use takegauge_drill::{Drill, Step};

/// One written note or rest.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Piece {
    /// Ticks from the line's start.
    pub(super) start: u64,
    /// Length in ticks.
    pub(super) ticks: u64,
    /// The note value's denominator: 4 a quarter, 16 a sixteenth.
    pub(super) value: u32,
    /// So many in the time of so many (3 in 2), where the value is not shown at its own length.
    pub(super) tuplet: Option<(u32, u32)>,
    /// The step of the line whose note it is; `None` for a rest.
    pub(super) note: Option<usize>,
    pub(super) first: bool,
    pub(super) last: bool,
}

/// Bars of pieces: each bar's start and end in ticks, and what is in it.
pub(super) struct Bar {
    pub(super) start: u64,
    pub(super) end: u64,
    pub(super) pieces: Vec<Piece>,
}

pub(super) fn bars(drill: &Drill) -> Vec<Bar> {
    let timing = Timing::of(drill);
    let bar = TICKS * u64::from(drill.beats_per_bar.max(1));
    let pickup = timing.pickup_ticks();
    let next_line = |tick: u64| {
        if tick < pickup { pickup - (pickup - tick - 1) / bar * bar } else { tick + bar - (tick - pickup) % bar }
    };
    let mut bars: Vec<Bar> = Vec::new();
    let mut now = 0;
    while now < timing.line_ticks() {
        let end = next_line(now).min(timing.line_ticks());
        bars.push(Bar { start: now, end, pieces: Vec::new() });
        now = end;
    }
    for piece in pieces(drill, &timing, next_line) {
        let at = bars.partition_point(|b| b.end <= piece.start);
        if let Some(bar) = bars.get_mut(at) {
            bar.pieces.push(piece);
        }
    }
    bars
}

fn pieces(drill: &Drill, timing: &Timing, next_line: impl Fn(u64) -> u64) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut position = 0;
    while let Some(step) = drill.line.get(position) {
        let (note, more) = match step {
            Step::Note(_) => (Some(position), Step::Held),
            _ => (None, Step::Silent),
        };
        let length = 1 + drill.line.iter().skip(position + 1).take_while(|s| **s == more).count();
        let mut event = Vec::new();
        let at = |p: usize| timing.starts.get(p).copied().unwrap_or_else(|| timing.line_ticks());
        let (mut from, mut now) = (position, at(position));
        while from < position + length {
            let (steps, mut piece) = piece(drill, timing, from, position + length - from, &next_line);
            let end = (piece.start + piece.ticks).min(next_line(now));
            // A step that a bar line cuts is written in two parts.
            piece.start = now;
            piece.ticks = end - now;
            from += if end >= at(from + steps) { steps } else { 0 };
            now = end;
            event.push(Piece { note, ..piece });
        }
        if let Some(first) = event.first_mut() {
            first.first = true;
        }
        if let Some(last) = event.last_mut() {
            last.last = true;
        }
        pieces.append(&mut event);
        position += length;
    }
    pieces
}

/// The longest piece from a step on that one note head shows, of at most `steps` steps; with its steps.
fn piece(drill: &Drill, timing: &Timing, from: usize, steps: usize, next_line: impl Fn(u64) -> u64) -> (usize, Piece) {
    let at = |p: usize| timing.starts.get(p).copied().unwrap_or_else(|| timing.line_ticks());
    let (start, step) = (at(from), at(from + 1) - at(from));
    let division = (TICKS / step.max(1)) as u32;
    let within = |n: usize| {
        let end = at(from + n);
        end <= next_line(start) && end - start == step * n as u64
    };
    let power = 1u32 << division.ilog2();
    let step_value = u32::from(drill.beat_unit.max(1)) * power;
    let mut n = 1;
    while n * 2 <= steps && within(n * 2) && step_value as usize >= n * 2 {
        n *= 2;
    }
    let piece = Piece {
        start,
        ticks: at(from + n) - start,
        value: step_value / n as u32,
        tuplet: (division != power).then_some((division, power)),
        note: None,
        first: false,
        last: false,
    };
    (n, piece)
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_drill::built_in;

    #[test]
    fn pieces_fill_every_bar() {
        for b in built_in() {
            for bar in bars(&b.drill().unwrap()) {
                let mut now = bar.start;
                for piece in &bar.pieces {
                    assert_eq!(piece.start, now, "{}", b.name);
                    now += piece.ticks;
                }
                assert_eq!(now, bar.end, "{}", b.name);
            }
        }
    }

    #[test]
    fn long_notes_are_tied_over_bars_and_odd_lengths() {
        let text = "name='t'\ntempo_bpm=90\nsteps_per_beat=4\nbeats_per_bar=2\npickup_steps=2\ntuning='standard'\nline='\
                    6:1 ~ ~ ~ ~ 6:2 - - /3 6:3 ~ 6:4'";
        let bars = bars(&Drill::parse(text, "t").unwrap());
        let shown: Vec<Vec<_>> =
            bars.iter().map(|b| b.pieces.iter().map(|p| (p.value, p.tuplet, p.first, p.last)).collect()).collect();
        let t = Some((3, 2));
        assert_eq!(shown[0], [(8, None, true, false)]);
        assert_eq!(shown[1][..2], [(8, None, false, false), (16, None, false, true)]);
        assert_eq!(shown[1][2..4], [(16, None, true, true), (8, None, true, true)]);
        // The bar line cuts the second third of the triplet.
        assert_eq!(shown[1][4..], [(8, t, true, false), (8, t, false, false)]);
        assert_eq!(shown[2], [(8, t, false, true), (8, t, true, true)]);
    }
}
