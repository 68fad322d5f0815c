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
mod error;
mod forms;
mod frame;
mod guard;
mod handlers;
mod jobs;
mod options;
mod routes;
mod server;
mod slow;
mod sound;
mod state;
mod trouble;
mod upload;
mod views;
mod work;

pub use error::PageError;
pub use options::Options;
pub use server::{Server, interrupted};

use std::path::Path;
use takegauge_drill::Drill;
use takegauge_review::ScoreReport;

/// Scores takes: the rooms that listen, align and measure, as this one sees them.
pub trait Scorer: Send + Sync + 'static {
    /// Scores the recording in the file `take`, which its sender calls `name` (a tempo may stand in it), against
    /// `drill`; at `tempo_bpm` if given. `progress` takes the share done, 0 to 1, and answers whether to go on: it is to
    /// be asked often, so that a player who has thought better of it need not wait.
    ///
    /// # Errors
    /// Why it could not be scored, and what to do, in a sentence.
    fn score(
        &self,
        take: &Path,
        name: &str,
        drill: &Drill,
        tempo_bpm: Option<f64>,
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<ScoreReport, String>;
}
