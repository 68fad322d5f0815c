//! Why a film does not belong to a take.

use takegauge_units::Seconds;

/// Why two sounds were not laid over each other.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NoMatch {
    /// The stretches of a second do not agree on one place.
    #[error(
        "the film's sound is not this playing: at the best place, {:.1} s into the film, {agree} of {windows} stretches of \
         sound fit the take's, {needed} are needed. Name the film of this take; if it is, its sound is too faint or too \
         much covered by other noise, or the film was cut",
        .film_at.0
    )]
    OtherPlaying {
        /// Where in the film the middle of the take lies at the best place.
        film_at: Seconds,
        /// Windows that agree with the best line.
        agree: usize,
        /// Windows with sound in both.
        windows: usize,
        /// How many would have to agree.
        needed: usize,
    },
    /// One of the two has no sound to speak of.
    #[error("{which} is silent: nothing can be matched")]
    Silent {
        /// "the take" or "the film's sound"
        which: &'static str,
    },
    /// Too little sound in common.
    #[error(
        "{which} is only {:.1} s long: at least {:.0} s are needed to tell this playing from another",
        .length.0, .needed.0
    )]
    TooShort {
        /// "the take" or "the film's sound"
        which: &'static str,
        /// How long it is.
        length: Seconds,
        /// The least.
        needed: Seconds,
    },
    /// More than is held in memory.
    #[error("{which} is longer than {hours} hours; cut it to the part that shows the take")]
    TooLong {
        /// "the take" or "the film's sound"
        which: &'static str,
        /// The most.
        hours: u64,
    },
}
