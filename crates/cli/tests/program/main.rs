//! The `takegauge` program from outside: what a user types, what comes back, and what is left on the disk.

#![allow(clippy::unwrap_used, clippy::panic)] // tests

mod bad_drills;
mod bad_takes;
mod click;
mod common;
mod demo;
mod desk;
mod exact;
mod ladder;
mod onsets;
mod outputs;
mod score;
mod session;
mod which;
