//! The picking hand: which stroke each note gets.

use crate::timing::{Timing, greatest_common_divisor};
use crate::{AfterGap, Drill, LineNote, Picking, Sounding, Stroke};

/// Chooses strokes note by note as `picking` and `after_gap` say.
pub(super) struct Hand<'a> {
    drill: &'a Drill,
    /// Once per so many ticks the hand changes direction (`after_gap = "hand"`).
    pulse: u64,
    /// The last picked note: its stroke, tick, single string.
    last: Option<(Stroke, u64, Option<u8>)>,
    /// A gap came since the last picked note.
    gap: bool,
    /// A rest or held step came since the last picked note.
    pause: bool,
}

impl<'a> Hand<'a> {
    pub(super) fn new(drill: &'a Drill, timing: &Timing, line: &[(usize, &LineNote)]) -> Self {
        let picked: Vec<u64> = line
            .iter()
            .filter(|(_, n)| n.sounding == Sounding::Picked)
            .filter_map(|(p, _)| timing.starts.get(*p).copied())
            .collect();
        let within = picked.windows(2).map(|w| w[1] - w[0]);
        let seam = match (picked.first(), picked.last()) {
            (Some(first), Some(last)) if drill.repeats > 1 => first + timing.line_ticks() - last,
            _ => 0,
        };
        let pulse = within.fold(seam, greatest_common_divisor).max(1);
        Self { drill, pulse, last: None, gap: false, pause: false }
    }

    /// The stroke of the next note, `None` where it takes none.
    pub(super) fn stroke(
        &mut self,
        note: &LineNote,
        tick: u64,
        distance: Option<usize>,
        after_gap: bool,
    ) -> Option<Stroke> {
        self.gap |= after_gap;
        self.pause |= distance.is_some_and(|d| d > 1);
        if note.sounding != Sounding::Picked {
            return None;
        }
        let string = match note.fingered.as_slice() {
            [one] => Some(one.string),
            _ => None,
        };
        let stroke = note.written_stroke.unwrap_or_else(|| self.unwritten(string, tick));
        self.last = Some((stroke, tick, string));
        self.gap = false;
        self.pause = false;
        Some(stroke)
    }

    fn unwritten(&self, string: Option<u8>, tick: u64) -> Stroke {
        let first = self.drill.first_stroke;
        let Some((before, then, left)) = self.last else {
            return if self.drill.picking == Picking::Down { Stroke::Down } else { first };
        };
        match (self.drill.picking, self.drill.after_gap) {
            (Picking::Down, _) => Stroke::Down,
            (_, AfterGap::Restart) if self.gap => first,
            (_, AfterGap::Hand) if self.pause => {
                if (tick - then) / self.pulse % 2 == 1 {
                    before.other()
                } else {
                    before
                }
            }
            (Picking::Economy, _) if sweeps(left, string, before) => before,
            _ => before.other(),
        }
    }
}

fn sweeps(left: Option<u8>, reached: Option<u8>, stroke: Stroke) -> bool {
    match (left, reached) {
        (Some(from), Some(to)) => from.abs_diff(to) == 1 && stroke.goes_toward(from, to),
        _ => false,
    }
}
