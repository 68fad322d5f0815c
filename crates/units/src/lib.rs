//! Units as types, and the two small records that every room shares: [`TakeInfo`] and [`Attack`].
//!
//! Conventions: a point in a take is an [`Instant`] (a whole sample plus a fraction), never a lone float; a distance
//! in time is [`Seconds`] or [`Millis`]; every number that crosses a crate boundary wears one of these types.
//! None of them checks for finiteness on its own unless its constructor says so.

mod attack;
mod instant;
mod music;

pub use attack::{Attack, FIRST_KEY, KEYS, PitchEvidence, TakeInfo};
pub use instant::{Instant, SampleIndex, SampleRate};
pub use music::{Bpm, Decibels, Hertz, MidiKey};

use serde::{Deserialize, Serialize};

/// A time or a duration in seconds, signed.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Seconds(pub f64);

/// A duration in milliseconds, signed; a deviation is played minus expected, so + is late.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Millis(pub f64);

impl Seconds {
    /// The same duration in milliseconds.
    pub fn millis(self) -> Millis {
        Millis(self.0 * 1e3)
    }
}

impl Millis {
    /// The same duration in seconds.
    pub fn seconds(self) -> Seconds {
        Seconds(self.0 * 1e-3)
    }
}

macro_rules! linear {
    ($($t:ident),*) => {$(
        impl std::ops::Add for $t { type Output = Self; fn add(self, o: Self) -> Self { Self(self.0 + o.0) } }
        impl std::ops::Sub for $t { type Output = Self; fn sub(self, o: Self) -> Self { Self(self.0 - o.0) } }
        impl std::ops::Neg for $t { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl std::ops::Mul<f64> for $t { type Output = Self; fn mul(self, k: f64) -> Self { Self(self.0 * k) } }
        impl std::ops::Div<f64> for $t { type Output = Self; fn div(self, k: f64) -> Self { Self(self.0 / k) } }
    )*};
}
linear!(Seconds, Millis);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_and_millis_are_the_same_length() {
        assert_eq!(Seconds(0.25).millis(), Millis(250.0));
        assert_eq!(Millis(250.0).seconds(), Seconds(0.25));
        assert_eq!(Seconds(1.0) - Seconds(0.25), Seconds(0.75));
    }
}
