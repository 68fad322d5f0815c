//! One module a command.

pub(crate) mod onsets;
pub(crate) mod score;
