//! One module a command.

pub(crate) mod batch;
pub(crate) mod beside;
pub(crate) mod click;
pub(crate) mod config;
pub(crate) mod demo;
pub(crate) mod drill;
pub(crate) mod film;
pub(crate) mod folder;
pub(crate) mod inputs;
pub(crate) mod journal;
pub(crate) mod ladder;
pub(crate) mod manual;
pub(crate) mod onsets;
pub(crate) mod page;
pub(crate) mod score;
pub(crate) mod session;
pub(crate) mod steps;
pub(crate) mod watch;
pub(crate) mod which;
