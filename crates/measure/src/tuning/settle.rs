//! What is known of a note's time by itself (`crate::prior`), and how matches with other notes change it
//! (`crate::settle`). Chances of being elsewhere are shares of notes; "so much likelier" is a natural logarithm of a
//! ratio of likelihoods.

/// A note whose own time is known to this or better stays where it is, ms, one standard deviation.
pub(crate) const SURE_MS: f64 = 0.25;
/// The chance that a sure note's time is elsewhere, ...
pub(crate) const DOUBT_IF_SURE: f64 = 5e-4;
/// ... and that another's is: its standard deviation over this, ms, so that of times in little doubt one in ten is
/// elsewhere, ...
pub(crate) const LOST_MS: f64 = 7.0;
/// ... and at most this: of those in most doubt still a quarter right.
pub(crate) const MOST_DOUBT: f64 = 0.75;
/// A time that is right is off by at least and at most so much, ms, one standard deviation.
pub(crate) const HERE_MS: (f64, f64) = (0.15, 0.3);
/// A time that is elsewhere is off by so much, ms, one standard deviation.
pub(crate) const ELSEWHERE_MS: f64 = 6.0;

/// Independent values that a match stands for, per unit of its log-likelihood ratio: ringing notes and the bands'
/// widths leave so many.
pub(crate) const FREEDOM: f64 = 3.5;
/// Matches with several notes that all rang on alike are worth no more than so many.
pub(crate) const WITNESSES: f64 = 3.0;
/// So many sure notes are enough to hold a doubtful one against: more cost time.
pub(crate) const ENOUGH: usize = 8;
/// Two places nearer than this are one, ms.
pub(crate) const APART_MS: f64 = 0.6;
/// Two notes belong together if their best lag is so much likelier than any other; ...
pub(crate) const BELONG: f64 = 3.0;
/// ... two sure ones do, as if theirs were by so much.
pub(crate) const SURELY: f64 = 7.0;
/// A note is settled if its place is so much likelier than any other.
pub(crate) const CLEAR: f64 = 2.0;
/// A time in no more doubt than this is worth a try as it stands, ms, one standard deviation.
pub(crate) const WORTH_MS: f64 = 1.5;
/// So many times every doubtful note is laid over all others.
pub(crate) const ROUNDS: usize = 2;

/// What rings matches, too, but does not begin: a place where no band gets so much louder than it was in the time that
/// [`super::alike::PAST_BLOCKS`] covers, octaves, ...
pub(crate) const RISE: f64 = 0.5;
/// ... is less likely by so much for each octave wanting, ...
pub(crate) const NO_RISE: f64 = 5.0;
/// ... and by so much at most.
pub(crate) const NO_RISE_AT_MOST: f64 = 8.0;

/// A note that is put less than this from its own time is not moved to another place, ms: it takes a mean of both, ...
pub(crate) const NEAR_MS: f64 = 0.5;
/// ... weighted by the standard deviation of a match, ms, ...
pub(crate) const MATCHED_MS: f64 = 0.15;
/// ... and by its own, which counts as no larger than this, ms.
pub(crate) const OWN_AT_MOST_MS: f64 = 0.4;
/// The stated uncertainty of a settled note: one standard deviation where its place is right, ms, ...
pub(crate) const CORE_MS: f64 = 0.16;
/// ... and where it is not, ms.
pub(crate) const STILL_OFF_MS: f64 = 4.0;
/// Of notes put elsewhere this share is still off, however clear the match is: matched to another period.
pub(crate) const MOVED_WRONG: f64 = 0.12;
/// Of notes that stay, this share of those that were likely to be elsewhere still is.
pub(crate) const STILL_LOST: f64 = 0.05;
