//! How often things go wrong, and what an attack's sound says.

/// Before a take is known, a prepared player's rates: the chance that a picked note reached is not heard, ...
pub(crate) const USUAL_MISS: f64 = 0.02;
/// ... attacks that are no notes, for each note of the drill, ...
pub(crate) const USUAL_EXTRA: f64 = 0.04;
/// ... the chance that a note is played at, or heard as, any pitch at all.
pub(crate) const USUAL_WRONG: f64 = 0.03;
/// How many notes' worth the usual rates weigh when a take's own are estimated.
pub(crate) const USUAL_WEIGHT: f64 = 30.0;
/// A stumbling beginner's, each of the three: for takes that make no sense at the usual ones.
pub(crate) const POOR: f64 = 0.12;
/// No rate is taken to be above this. By reasoning: a reading with more than one in three wrong is no reading.
pub(crate) const HIGHEST_RATE: f64 = 1.0 / 3.0;
/// Chance that the note after a missed one is not heard either: they come in runs.
pub(crate) const MISS_AGAIN: f64 = 0.2;
/// Chance that a legato note is not heard as an attack.
pub(crate) const MISS_LEGATO: f64 = 0.5;

/// Share of noodling that is at any pitch; the rest is at the drill's pitches in any order. By reasoning: either.
pub(crate) const NOODLED_ANYHOW: f32 = 0.5;
/// Chance of a hesitation before a note, after which the grid starts anew.
pub(crate) const PAUSE: f64 = 5e-5;
/// How long hesitations last on average, usual distances; after much longer ones it is a new start.
pub(crate) const PAUSE_LENGTH: f64 = 3.0;
/// Steps of evidence that make a pitch e times likelier. Over recordings whose notes are known the likelihood of the
/// true keys is flat from 5 to 12 and best near 8.
pub(crate) const EVIDENCE_SCALE: f64 = 8.0;
/// The price of an attack of strength 0, falling to none at the blind threshold.
pub(crate) const FAINT: f64 = 4.0;
