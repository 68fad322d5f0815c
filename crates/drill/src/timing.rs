//! When each step comes: exact ticks along the line, then swing, then seconds.
//!
//! A beat has [`TICKS`] ticks, so that every subdivision from 1 to 12 falls on whole ticks.

use crate::{Drill, Step};
use takegauge_units::Seconds;

/// Ticks a beat: the least common multiple of 1 to 12.
pub const TICKS: u64 = 27_720;

/// The times of the line's steps.
#[derive(Debug, Clone)]
pub struct Timing {
    /// Start of each step in ticks from the line's start, and the line's length at the end.
    pub starts: Vec<u64>,
    /// Steps a beat in force at each step.
    divisions: Vec<u8>,
    /// Ticks from the line's start to its first bar line.
    pickup: u64,
    swing: f64,
    /// Seconds a beat.
    beat: f64,
}

impl Timing {
    /// Those of a drill.
    pub fn of(drill: &Drill) -> Self {
        let mut starts = Vec::with_capacity(drill.line.len() + 1);
        let mut divisions = Vec::with_capacity(drill.line.len());
        let mut changes = drill.divisions.iter().peekable();
        let (mut now, mut division) = (0u64, drill.steps_per_beat.max(1));
        for position in 0..drill.line.len() {
            while let Some((_, n)) = changes.next_if(|c| c.0 <= position) {
                division = (*n).max(1);
            }
            starts.push(now);
            divisions.push(division);
            now += TICKS / u64::from(division);
        }
        starts.push(now);
        let pickup = starts.get(usize::from(drill.pickup_steps)).copied().unwrap_or(0);
        Self { starts, divisions, pickup, swing: drill.swing, beat: drill.beat_seconds() }
    }

    /// Ticks from the line's start to its first bar line.
    pub fn pickup_ticks(&self) -> u64 {
        self.pickup
    }

    /// Ticks from one playing of the line to the next.
    pub fn line_ticks(&self) -> u64 {
        self.starts.last().copied().unwrap_or(0)
    }

    /// Ticks from the drill's start to the step at `position` of a repeat; `position` may be the line's length.
    pub(crate) fn tick(&self, repeat: usize, position: usize) -> u64 {
        let within = self.starts.get(position).copied().unwrap_or_else(|| self.line_ticks());
        repeat as u64 * self.line_ticks() + within
    }

    /// The same in seconds, swing included.
    pub(crate) fn seconds(&self, repeat: usize, position: usize) -> Seconds {
        let tick = self.tick(repeat, position);
        // A step that starts where the line ends is swung as the first step of the next playing is.
        let division = self.divisions.get(position).or(self.divisions.first()).copied().unwrap_or(1);
        let mut beats = tick as f64 / TICKS as f64;
        let step = TICKS / u64::from(division);
        // Steps pair off from the beat; ahead of the first bar line they pair off backwards.
        let phase = (tick + TICKS - self.pickup % TICKS) % TICKS;
        if division % 2 == 0 && phase.is_multiple_of(step) && (phase / step) % 2 == 1 {
            beats += (self.swing / 50.0 - 1.0) / f64::from(division);
        }
        Seconds(beats * self.beat)
    }
}

impl Drill {
    /// How long a beat lasts, in seconds.
    pub fn beat_seconds(&self) -> f64 {
        self.tempo.beat().0 * 4.0 / f64::from(self.beat_unit.max(1))
    }

    /// How long one step of `steps_per_beat` lasts.
    pub fn step_seconds(&self) -> Seconds {
        Seconds(self.beat_seconds() / f64::from(self.steps_per_beat.max(1)))
    }

    /// How long all repeats last, from the first step to the end of the last.
    pub fn duration(&self) -> Seconds {
        let ticks = Timing::of(self).line_ticks() as f64 * f64::from(self.repeats);
        Seconds(ticks / TICKS as f64 * self.beat_seconds())
    }

    /// How many notes the line has, each chord counted once.
    pub fn notes_in_line(&self) -> usize {
        self.line.iter().filter(|s| matches!(s, Step::Note(_))).count()
    }
}

/// The greatest number that divides both; of 0 and `b`, `b`.
pub fn greatest_common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
}
