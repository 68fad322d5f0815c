//! A string model that plays a drill with chosen faults and knows exactly when each string was let go.
//!
//! Two steps, so that tests of timing alone need no sound:
//! [`perform`] turns a drill and a [`Player`] into a [`Performance`] (pure timing, cheap), and [`render`] turns that and
//! a [`Sound`] into samples. Everything follows from [`Player::seed`]: the same input gives the same bits on one machine.
//!
//! Conventions: times are seconds of the take, sample 0 is 0 s; deviations are played minus grid, + is late. An attack
//! is where the note's leading edge, dry and in isolation, first reaches -20 dB of its peak.

pub mod answers;
mod chain;
mod damp;
pub mod demo;
mod filter;
mod guide;
mod knocking;
mod perform;
mod performance;
mod player;
mod render;
mod room;
pub mod scenes;
mod sound;
mod speech;
mod string;
mod talk;
mod touch;
mod voice;

pub use guide::sounded;
pub use perform::{perform, perform_grid};
pub use performance::{Beat, Damping, Event, ExtraKind, ExtraNote, PassPlayed, Performance, PlayedNote, Status, Touch};
pub use player::{Happens, Pass, Player, Selector};
pub use render::{Rendered, Renderer, render};
pub use sound::{Guitar, Knocks, NOTE_PEAK, Sound, Speech};
