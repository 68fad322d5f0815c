//! What counts as a pass, as an extra, and as a take of the drill.

/// A pass reaches one in so many of the line's notes, half of them, ...
pub(crate) const ENOUGH_ONE_IN: usize = 2;
/// ... and of very short lines so many: enough to tell it from chance.
pub(crate) const ENOUGH_NOTES: usize = 6;
/// How many notes at the drill's very start or end count as not heard, rather than as begun late or broken off early.
pub(crate) const SLACK: usize = 2;
/// One in so many of the notes that a pass reached must be played: more of it than not.
pub(crate) const PLAYED_ONE_IN: usize = 2;
/// A pass that takes the drill to its end, from before where the one before broke off, is one with so many notes.
pub(crate) const FINISHES_WITH: usize = 4;
/// A start that broke off was no pass if the next one came so many times as far.
pub(crate) const BEGUN_ANEW: usize = 2;

/// By so much a note a pass may sound less like the drill than like its pitches in any order: a third of its notes
/// wrong comes near it, another drill goes beyond it.
pub(crate) const WORST_SOUND: f64 = 1.0;
/// A take is the drill's if so many attacks come to a note of its passes at most: half of them are explained, ...
pub(crate) const ATTACKS_A_NOTE: usize = 2;
/// ... or if one pass is too long for chance: so many times what a pass must reach, ...
pub(crate) const LONG: usize = 2;
/// ... where that is at least so many notes.
pub(crate) const LONG_NOTES: usize = 8;

/// The weakest attack that may be an extra note; the blind threshold is 1.
pub(crate) const FAINTEST_EXTRA: f32 = 0.6;
/// How far after a pass's last note an attack is one too many rather than something else, in usual distances of notes. By
/// reasoning: a string brushed half-way to where the next note would be comes late as often as early; a hand that stops
/// the strings comes later.
pub(crate) const AFTER_THE_END: f64 = 0.75;
