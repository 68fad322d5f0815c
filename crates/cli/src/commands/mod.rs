//! One module a command.

pub(crate) mod click;
pub(crate) mod demo;
pub(crate) mod drill;
pub(crate) mod ladder;
pub(crate) mod onsets;
pub(crate) mod score;
