//! The click: written to record to, found again in a recording, and the delay of a set-up that it tells.

mod beats;
mod ear;
mod error;
mod offset;
mod sound;
mod table;
mod track;

pub use beats::beats_heard;
pub use ear::ClickEar;
pub use error::ClickError;
pub use offset::{Delay, Offset, offset};
pub use table::{ladder_table, read_ladder_table};
pub use track::{Click, ClickKind, ClickOptions, ClickStep, ClickTrack, MAX_LENGTH, SilentBars};
