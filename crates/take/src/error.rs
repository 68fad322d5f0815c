//! Why a take has no report.

use takegauge_align::AlignError;
use takegauge_audio::AudioError;
use takegauge_click::ClickError;
use takegauge_review::many::Unscored;
use takegauge_units::Seconds;

/// Why a take could not be heard or scored.
#[derive(Debug, thiserror::Error)]
pub enum TakeError {
    /// The take, or a file with its click, cannot be read; or what a [`crate::Tap`] wrote could not be written.
    #[error(transparent)]
    Audio(#[from] AudioError),
    /// [`crate::Progress`] said to stop.
    #[error("stopped before the take was scored")]
    Stopped,
    /// The take could be read and does not fit the drill.
    #[error("{take}: {source}")]
    NotAligned {
        /// The take's path.
        take: String,
        /// Why.
        source: AlignError,
    },
    /// The take does not fit the drill, and holds too few attacks to tell why.
    #[error(
        "{take}: {} heard in it, too few to find them in the drill; play at least one whole repeat of the line",
        only(*.attacks)
    )]
    TooShort {
        /// The take's path.
        take: String,
        /// How many there are.
        attacks: usize,
    },
    /// The time at which the click starts is no time of the take.
    #[error("the take ends at {:.2} s, before the click starts at {:.2} s", .ends.0, .starts.0)]
    ClickStartsLate {
        /// When the take ends.
        ends: Seconds,
        /// When the click was said to start.
        starts: Seconds,
    },
    /// A table of steps asks for more than any take holds.
    #[error("the table's steps are {notes} notes and rests together; at most {most} are read")]
    TooManySteps {
        /// All of them.
        notes: usize,
        /// The limit.
        most: usize,
    },
    /// A click that tells no beats.
    #[error("{file}: {source}")]
    Click {
        /// The file that the click is in.
        file: String,
        /// Why.
        source: ClickError,
    },
    /// Nowhere in the take the notes of a click track's steps fall near their places.
    #[error(
        "{take}: no place for the click track was found; at the best one {fits} of {notes} notes fall near their places"
    )]
    NoPlace {
        /// The take's path.
        take: String,
        /// Notes near their places at the best beginning.
        fits: usize,
        /// Notes of all steps.
        notes: usize,
    },
}

impl TakeError {
    /// What it is among the reasons why takes of many have no score.
    pub fn kind(&self) -> Unscored {
        if self.is_unscored() { Unscored::NotScored } else { Unscored::Unreadable }
    }

    /// Whether the take could be read, and only has no score; else the take, or what was asked, is at fault.
    pub fn is_unscored(&self) -> bool {
        match self {
            Self::NotAligned { .. } | Self::TooShort { .. } | Self::NoPlace { .. } | Self::Stopped => true,
            Self::Audio(_) | Self::ClickStartsLate { .. } | Self::Click { .. } | Self::TooManySteps { .. } => false,
        }
    }
}

/// "only 6 attacks were"
fn only(n: usize) -> String {
    if n == 1 { "only one attack was".to_owned() } else { format!("only {n} attacks were") }
}
