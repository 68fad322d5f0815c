//! The way through a take: opened, listened to, aligned, measured, its grid fitted again, reviewed. Whatever scores a
//! take, be it a command or a page, goes this one way.
//!
//! A take is decoded once to listen and once to measure, never more: the click on another channel is heard in the first
//! pass, and a [`Tap`] takes the samples of the second. (`ChannelChoice::Auto` on a file of several channels looks at
//! its start before the first pass.) The same take and request give the same report.

mod error;
mod hear;
mod measure;
mod onsets;
mod progress;
mod request;
mod score;
mod steps;
mod tempo;
mod timebase;
mod which;

pub use error::TakeError;
pub use hear::{FEW_ATTACKS, Heard, clicks, hear};
pub use measure::{NoTap, Tap};
pub use onsets::{Onset, OnsetsReport, TakeHeard};
pub use progress::{Pass, Progress};
pub use request::{Click, NotAllowed, Request, click_start, delay, tempo};
pub use score::{hear_to_score, score, score_heard, score_with};
pub use steps::{Began, LeftOut, StepScore, StepScores, score_steps};
pub use takegauge_audio::{Recording, Samples};
pub use which::{Told, which};
