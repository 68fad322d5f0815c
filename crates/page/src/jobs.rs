//! Recordings that were sent: waiting, being scored, scored. They live until the program stops, in a folder of its own
//! that goes with it; nothing of them is kept unless the player puts the score into the journal.

use crate::Scorer;
use crate::error::PageError;
use crate::state::lock;
use crate::trouble::Trouble;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use takegauge_drill::Drill;
use takegauge_journal::RecordedAt;
use takegauge_review::ScoreReport;
use tempfile::TempDir;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// Results held; the oldest give way.
const HELD: usize = 12;
/// Recordings that may wait or be scored at a time.
const UNDER_WAY: usize = 6;
/// Recordings that may come in at a time.
const COMING_IN: usize = 2;

/// What was sent.
#[derive(Debug, Clone)]
pub(crate) struct Sent {
    /// As its sender calls it.
    pub(crate) name: String,
    pub(crate) drill: Drill,
    pub(crate) tempo_bpm: Option<f64>,
    pub(crate) recorded_at: RecordedAt,
    /// Where it lies meanwhile.
    pub(crate) file: PathBuf,
}

/// How far it is.
#[derive(Debug, Clone)]
pub(crate) enum Stage {
    Waiting,
    /// Share done, 0 to 1.
    Working(f64),
    Done(Arc<ScoreReport>),
    Failed(String),
}

#[derive(Debug, Clone)]
pub(crate) struct Job {
    pub(crate) sent: Arc<Sent>,
    pub(crate) stage: Stage,
    /// Its number in the journal, once it is there.
    pub(crate) kept_as: Option<i64>,
}

pub(crate) struct Jobs {
    scorer: Arc<dyn Scorer>,
    folder: TempDir,
    list: Mutex<BTreeMap<u64, Job>>,
    /// One take is scored at a time.
    turn: Arc<Semaphore>,
    door: Arc<Semaphore>,
}

impl Jobs {
    pub(crate) fn new(scorer: Arc<dyn Scorer>) -> Result<Self, PageError> {
        let folder = tempfile::Builder::new().prefix("takegauge-").tempdir();
        Ok(Self {
            scorer,
            folder: folder.map_err(|e| PageError::Start(format!("no folder for recordings: {e}")))?,
            list: Mutex::default(),
            turn: Arc::new(Semaphore::new(1)),
            door: Arc::new(Semaphore::new(COMING_IN)),
        })
    }

    pub(crate) fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// A place at the door, held while a recording comes in.
    pub(crate) fn come_in(&self) -> Result<OwnedSemaphorePermit, Trouble> {
        let busy = |what: &str| Trouble::Busy(format!("{what} Try again when they are done."));
        let unfinished = lock(&self.list).values().filter(|j| !j.over()).count();
        if unfinished >= UNDER_WAY {
            return Err(busy("Several recordings are waiting to be scored."));
        }
        Arc::clone(&self.door).try_acquire_owned().map_err(|_| busy("Other recordings are coming in."))
    }

    pub(crate) fn get(&self, number: u64) -> Result<Job, Trouble> {
        let gone = || Trouble::NotFound("This result is no longer held. Drop the recording again.".into());
        lock(&self.list).get(&number).cloned().ok_or_else(gone)
    }

    /// All of them, the latest first.
    pub(crate) fn all(&self) -> Vec<(u64, Job)> {
        lock(&self.list).iter().rev().map(|(n, j)| (*n, j.clone())).collect()
    }

    pub(crate) fn set_kept(&self, number: u64, take: i64) {
        self.change(number, |j| j.kept_as = Some(take));
    }

    fn change(&self, number: u64, change: impl FnOnce(&mut Job)) {
        if let Some(job) = lock(&self.list).get_mut(&number) {
            change(job);
        }
    }

    fn add(&self, sent: Arc<Sent>) -> u64 {
        let mut list = lock(&self.list);
        let number = list.last_key_value().map_or(1, |(last, _)| last + 1);
        list.insert(number, Job { sent, stage: Stage::Waiting, kept_as: None });
        while list.len() > HELD {
            let Some(old) = list.iter().find(|(_, j)| j.over()).map(|(n, _)| *n) else { break };
            if let Some(job) = list.remove(&old) {
                // A file that cannot be removed now goes with the folder.
                let _ = std::fs::remove_file(&job.sent.file);
            }
        }
        number
    }
}

impl Job {
    fn over(&self) -> bool {
        matches!(self.stage, Stage::Done(_) | Stage::Failed(_))
    }

    /// The report, once there is one.
    pub(crate) fn report(&self) -> Result<Arc<ScoreReport>, Trouble> {
        match &self.stage {
            Stage::Done(report) => Ok(Arc::clone(report)),
            _ => Err(Trouble::NotFound("This take is not scored yet.".into())),
        }
    }
}

/// Has a recording scored when its turn comes; its number.
pub(crate) fn start(app: &Arc<crate::state::App>, sent: Sent) -> u64 {
    let sent = Arc::new(sent);
    let number = app.jobs.add(Arc::clone(&sent));
    let app = Arc::clone(app);
    tokio::spawn(async move {
        // Never closed, so the turn always comes.
        let Ok(_turn) = Arc::clone(&app.jobs.turn).acquire_owned().await else { return };
        let shared = Arc::clone(&app);
        let work = tokio::task::spawn_blocking(move || {
            let progress = |share: f64| shared.jobs.change(number, |j| j.stage = Stage::Working(share.clamp(0.0, 1.0)));
            progress(0.0);
            shared.jobs.scorer.score(&sent.file, &sent.name, &sent.drill, sent.tempo_bpm, &progress)
        });
        let stage = match work.await {
            Ok(Ok(report)) => Stage::Done(Arc::new(report)),
            Ok(Err(why)) => Stage::Failed(why),
            Err(e) => Stage::Failed(format!("scoring stopped: {e}")),
        };
        app.jobs.change(number, |j| j.stage = stage);
    });
    number
}
