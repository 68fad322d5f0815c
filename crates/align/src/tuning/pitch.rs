//! Transpositions and wrong notes.

/// Semitones either way that a guitar may be off as a whole. By reasoning: further off it is another drill or tuning.
pub(crate) const FURTHEST: i32 = 6;
/// Attacks enough to tell a transposition by.
pub(crate) const SAMPLE: usize = 300;
/// Share of attacks that may be anything.
pub(crate) const ANYTHING: f64 = 0.1;
/// Natural-log units by which another transposition must explain the pitches better to be tried.
pub(crate) const CLEARLY: f64 = 3.0;
/// So many others are tried at most: each costs a search.
pub(crate) const MOST_OTHERS: usize = 2;

/// A wrong note is one of these semitones off, each as likely as the other: a fret or a string mistaken. By reasoning:
/// octaves and further are left out, for partials make them look alike.
pub(crate) const WRONG_BY: [i32; 14] = [-7, -6, -5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 6, 7];
/// Odds of a wrong note to a right one before listening.
pub(crate) const WRONG_ODDS: f64 = 0.02;
