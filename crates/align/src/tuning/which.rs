//! Which of several drills a take is of.

/// Notes in a row that are looked for. By reasoning: of drills over the same strings and frets many share two or three.
pub(crate) const ROW: usize = 4;
/// Share of rows that may be anything: of four notes in a row one is missed, extra or wrong that often.
pub(crate) const ANYTHING: f64 = 0.2;
/// Rows enough to tell drills apart by.
pub(crate) const SAMPLE: usize = 400;
/// Natural-log units against a guitar that sounds off the drill's pitch as a whole. By reasoning: one take in some
/// hundred.
pub(crate) const OFF_PITCH: f64 = 5.0;
