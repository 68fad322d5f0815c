//! The journal and every report in a browser on the same machine.
//!
//! One server on 127.0.0.1. Pages are rendered here; scripts and styles are files from the same address. What keeps
//! other web sites, other machines and hostile files out stands in `guard`, `server` and `upload`: the address is
//! loopback only, Host and Origin are checked, writes carry a token made at each start, uploads are counted while they
//! come, and the name of an uploaded file is shown, never used as a path. Other users of the same machine reach the port
//! too: nothing is shown without the key that stands in the printed address, or the cookie that it is traded for.

mod answer;
mod ask;
mod choice;
mod click;
mod error;
mod forms;
mod frame;
mod guard;
mod handlers;
mod jobs;
mod options;
mod practised;
mod routes;
mod server;
mod slow;
mod sound;
mod state;
mod store;
mod trouble;
mod upload;
mod views;
mod work;

pub use error::PageError;
pub use options::Options;
pub use server::{Server, interrupted};

use std::path::Path;
use takegauge_click::Delay;
use takegauge_drill::Drill;
use takegauge_review::ScoreReport;
use takegauge_units::{Bpm, Millis, Seconds};

/// How a take was played.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Played {
    /// The tempo asked for, where one was.
    pub tempo: Option<Bpm>,
    /// The click that it was recorded to, where it was to one.
    pub click: Option<ToClick>,
}

/// A click that started when the recording did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToClick {
    /// When the drill's first step was due, from the recording's first sample, the set-up's delay left out.
    pub first_step: Seconds,
    /// The set-up's delay, where it was measured.
    pub delay: Option<Millis>,
}

/// What the pages ask of the program around them: the rooms that listen, align and measure, and what it remembers of
/// set-ups.
pub trait Scorer: Send + Sync + 'static {
    /// Scores the recording in the file `take`, which its sender calls `name` (a tempo may stand in it), against
    /// `drill`. `progress` takes the share done, 0 to 1, and answers whether to go on: it is to be asked often, so that
    /// a player who has thought better of it need not wait.
    ///
    /// # Errors
    /// Why it could not be scored, and what to do, in a sentence.
    fn score(
        &self,
        take: &Path,
        name: &str,
        drill: &Drill,
        played: &Played,
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<ScoreReport, String>;

    /// When the clicks of a recording sound, rising.
    ///
    /// # Errors
    /// Why the recording cannot be read.
    fn clicks(&self, recording: &Path) -> Result<Vec<Seconds>, String>;

    /// The delay of a set-up, measured before; `None` where none was.
    ///
    /// # Errors
    /// Why what is remembered cannot be read, and what to do.
    fn delay(&self, set_up: &str) -> Result<Option<Millis>, String>;

    /// Remembers a set-up's delay, in place of an older one.
    ///
    /// # Errors
    /// Why it cannot be written.
    fn keep_delay(&self, set_up: &str, delay: Delay) -> Result<(), String>;
}
