//! The constants by which an extra attack is told from none, and from talk, knocks and other sounds: meaning, unit,
//! origin.
//!
//! Those of other sounds are found by `tests/measure/other_sounds.py --fit`, which names the guitars, voices and knocks;
//! reports/talk.md has what they reach on others.

use super::lasting;

/// At most so many notes say how this take's strings begin.
pub(crate) const MOST_RELEASES: usize = 200;
/// Fewer notes than this do not say how the take's strings begin; then what is usual stands in.
pub(crate) const ENOUGH_NOTES: usize = 12;
/// What a note's release is like where the take has too few notes to say, as in [`crate::release::Release`]: middles of
/// those takes' middles.
pub(crate) const USUAL_SPREAD: f64 = -1.5;
pub(crate) const USUAL_FALL: f64 = 2.1;
pub(crate) const USUAL_TREBLE_FALL: f64 = 2.5;
/// However uncertain the notes' instants are, an extra's is held against no more than this: 0.32 ms.
pub(crate) const USUAL_SPREAD_AT_MOST: f64 = -1.0;
/// How much likelier a string than another sound is what begins as the take's notes do, natural logarithm.
pub(crate) const LIKE_NOTES: f64 = 0.044;
/// By how much that changes with each e-fold by which an instant is less certain than the notes', with each dB by which
/// the release stands further above what is new later than theirs, with each dB by which the sound predicts itself better
/// afterwards than before, with each dB by which the treble falls further than [`TREBLE_GONE_FROM`] beyond the notes' (a
/// knock's click), and with each e-fold of the odds that a string was let go, by the locator. Without the last, which tells a
/// vowel from a string, twice as much talk over recorded guitars is told as notes (reports/other_sounds.md).
pub(crate) const LIKE_NOTES_BY: [f64; 5] = [-0.833, 0.308, -0.222, -0.648, 0.357];
/// dB.
pub(crate) const TREBLE_GONE_FROM: f64 = 5.0;
/// Beyond these, values say no more.
pub(crate) const SPREADS: (f64, f64) = (-3.0, 4.0);
pub(crate) const FALLS: (f64, f64) = (-18.0, 12.0);
pub(crate) const SMOOTHER: (f64, f64) = (-5.0, 15.0);
pub(crate) const TREBLE_GONE_AT_MOST: f64 = 20.0;
/// Other sounds and notes too many that a take is taken to hold before it is heard: of so many of either. By reasoning:
/// most takes are of playing alone.
pub(crate) const OTHER_SOUNDS: f64 = 0.5;
pub(crate) const NOTES_TOO_MANY: f64 = 3.0;

/// Whether a string was struck, natural logarithm of the odds: a constant and the weights of
/// [`crate::stroke::Stroke`]'s values. Found by `tests/measure/extras.py --fit` (logistic regression) on the guitars
/// that it names as in sight, which now finds the same within 2 %. A string that is struck brings a moment and new sound,
/// hence the signs; how far it stood out to a listener who does not know the drill says nothing more (it was weighed, and
/// got -0.06).
pub(crate) const STRUCK: f64 = -2.37;
pub(crate) const STRUCK_BY: [f64; 3] = [-0.67, 4.73, 0.286];
/// Bounds of the values, natural logarithms: about those seen while fitting.
pub(crate) const NEWNESS: (f64, f64) = (-0.3, 1.2);
pub(crate) const ATTACKS: (f64, f64) = (-3.0, 6.0);
/// More than this says no more, ms: as far as a release is sought.
pub(crate) const MOST_SD_MS: f64 = 18.0;
/// Least standard deviation that counts, ms: below, what is known of an instant says nothing of its sharpness.
pub(crate) const SPREAD_FLOOR_MS: f64 = 0.05;
/// What counts where the newness cannot be told: what speaks neither for nor against.
pub(crate) const USUAL_NEWNESS: f64 = lasting::NEW;
/// Strokes and places without one that a take is taken to hold before it is heard, of so many of either. By reasoning:
/// a listener who does not know the drill heard each of them as an attack.
pub(crate) const STROKES: f64 = 3.0;
pub(crate) const NO_STROKES: f64 = 1.0;
/// An extra is told where the chance that nothing was struck is below this: two to one. By reasoning.
pub(crate) const DOUBT_AT_MOST: f64 = 1.0 / 3.0;

/// Rounds in which the two sorts' shares and each place's chance take turns, in telling strokes from none and strings
/// from other sounds; they settle after a few.
pub(crate) const SHARE_ROUNDS: usize = 40;
