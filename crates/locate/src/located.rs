//! What is asked and what is answered.

use crate::tuning::MOST_RIVALS;
use takegauge_units::Millis;

/// How much is spent on a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    /// Some 40 microseconds, looking 48 ms to each side.
    Quick,
    /// Some 90 microseconds, 150 at 44.1 kHz, looking 81 ms to each side.
    Thorough,
}

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Located {
    /// The instant, in samples of the sound that was given.
    pub at: f64,
    /// One standard deviation.
    pub sd: Millis,
    /// The chance that a string was let go here at all, 0 to 1.
    pub attack: f64,
    /// Other places that it may have been, the likeliest first.
    pub rivals: [Option<Rival>; MOST_RIVALS],
}

/// Another place that the release may have been.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rival {
    /// After the instant told, signed.
    pub after: Millis,
    /// Its share of the evidence, 0 to 1.
    pub share: f64,
}
