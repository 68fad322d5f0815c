//! What can go wrong with a click.

use takegauge_drill::Place;

/// Why a click could not be written or found.
#[derive(Debug, thiserror::Error)]
pub enum ClickError {
    /// An option that is out of its range.
    #[error("{option}: read {read}; allowed: {allowed}")]
    Option {
        /// Which option.
        option: String,
        /// What was asked for.
        read: String,
        /// What is allowed.
        allowed: String,
    },
    /// A row of a table of steps that is not one.
    #[error("{place}: read {read}; allowed: {allowed}")]
    Table {
        /// Where.
        place: Place,
        /// What was read.
        read: String,
        /// What is allowed there.
        allowed: String,
    },
    /// Clicks that were heard do not tell what is asked of them.
    #[error("the click: {reason}")]
    NotHeard {
        /// What was heard, and what to do.
        reason: String,
    },
}
