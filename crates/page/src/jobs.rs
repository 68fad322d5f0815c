//! Recordings that were sent: waiting, being scored, scored. They live until the program stops, in a folder of its own
//! that goes with it; nothing of them is kept unless the player puts the score into the journal.

use crate::error::PageError;
use crate::trouble::Trouble;
use crate::work::lock;
use crate::{Played, Scorer};
use std::collections::BTreeMap;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use takegauge_drill::Drill;
use takegauge_journal::RecordedAt;
use takegauge_review::{CameraSection, ScoreReport};
use tempfile::TempDir;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// Results held; the oldest give way.
pub(crate) const HELD: usize = 12;
/// Recordings that may wait or be scored at a time.
const UNDER_WAY: usize = 24;
/// Recordings that may come in at a time.
const COMING_IN: usize = 8;
/// Recordings that are scored at a time: enough that one long one does not hold up all others.
const PLACES: std::ops::RangeInclusive<usize> = 2..=4;
/// The longest that one may take.
const LONGEST: Duration = Duration::from_secs(20 * 60);
/// How the folders of all starts are called.
const PREFIX: &str = "takegauge-page-";

/// What was sent.
#[derive(Debug, Clone)]
pub(crate) struct Sent {
    /// As its sender calls it.
    pub(crate) name: String,
    pub(crate) drill: Drill,
    pub(crate) played: Played,
    /// Which try it is of those recorded in the page; `None` for a file that was dropped.
    pub(crate) try_number: Option<usize>,
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
    /// Its sender has thought better of it.
    Stopped,
}

#[derive(Debug, Clone)]
pub(crate) struct Job {
    pub(crate) sent: Arc<Sent>,
    pub(crate) stage: Stage,
    /// Set to end its scoring.
    stop: Arc<AtomicBool>,
    /// Its number in the journal, once it is there.
    pub(crate) kept_as: Option<i64>,
}

pub(crate) struct Jobs {
    scorer: Arc<dyn Scorer>,
    folder: TempDir,
    /// Locked as long as the program runs, so that the next start can tell a folder that was left behind.
    _lock: File,
    list: Mutex<BTreeMap<u64, Job>>,
    /// Numbers given: none is given twice, also after the last recording was thrown away.
    numbers: AtomicU64,
    tries: AtomicUsize,
    /// Turns come in the order asked for.
    turn: Arc<Semaphore>,
    door: Arc<Semaphore>,
}

impl Jobs {
    pub(crate) fn new(scorer: Arc<dyn Scorer>) -> Result<Self, PageError> {
        let fail = |e: std::io::Error| PageError::Start(format!("no folder for recordings: {e}"));
        sweep(&std::env::temp_dir());
        let folder = tempfile::Builder::new().prefix(PREFIX).tempdir().map_err(fail)?;
        let lock = File::create(folder.path().join(LOCK)).map_err(fail)?;
        // Where locks are not known, nothing is swept either.
        let _ = lock.try_lock();
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        Ok(Self {
            scorer,
            folder,
            _lock: lock,
            list: Mutex::default(),
            numbers: AtomicU64::default(),
            tries: AtomicUsize::default(),
            turn: Arc::new(Semaphore::new(cores.clamp(*PLACES.start(), *PLACES.end()))),
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

    /// Ends the scoring of a recording, or takes it out of the queue.
    pub(crate) fn stop(&self, number: u64) {
        self.change(number, |job| {
            job.stop.store(true, Ordering::Relaxed);
            if matches!(job.stage, Stage::Waiting | Stage::Working(_)) {
                job.stage = Stage::Stopped;
            }
        });
    }

    /// Ends everything and removes what was sent: the program is ending.
    pub(crate) fn close(&self) {
        for job in lock(&self.list).values() {
            job.stop.store(true, Ordering::Relaxed);
        }
        // What cannot be removed now is swept at the next start.
        let _ = std::fs::remove_dir_all(self.folder.path());
    }

    /// How many come before one that waits.
    pub(crate) fn before(&self, number: u64) -> usize {
        lock(&self.list).range(..number).filter(|(_, j)| matches!(j.stage, Stage::Waiting)).count()
    }

    pub(crate) fn get(&self, number: u64) -> Result<Job, Trouble> {
        let gone = || Trouble::NotFound("This result is no longer held. Drop the recording again.".into());
        lock(&self.list).get(&number).cloned().ok_or_else(gone)
    }

    /// All of them, the latest first.
    pub(crate) fn all(&self) -> Vec<(u64, Job)> {
        lock(&self.list).iter().rev().map(|(n, j)| (*n, j.clone())).collect()
    }

    /// The number of the next try that is recorded in the page.
    pub(crate) fn next_try(&self) -> usize {
        self.tries.fetch_add(1, Ordering::Relaxed) + 1
    }

    /// Forgets a recording and what was found in it, at once.
    pub(crate) fn throw_away(&self, number: u64) {
        if let Some(job) = lock(&self.list).remove(&number) {
            job.stop.store(true, Ordering::Relaxed);
            // A file that cannot be removed now goes with the folder.
            let _ = std::fs::remove_file(&job.sent.file);
        }
    }

    pub(crate) fn set_kept(&self, number: u64, take: i64) {
        self.change(number, |j| j.kept_as = Some(take));
    }

    /// Puts a film beside a result.
    pub(crate) fn set_camera(&self, number: u64, camera: CameraSection) {
        self.change(number, |job| {
            if let Stage::Done(report) = &mut job.stage {
                Arc::make_mut(report).camera = Some(camera);
            }
        });
    }

    fn change(&self, number: u64, change: impl FnOnce(&mut Job)) {
        if let Some(job) = lock(&self.list).get_mut(&number) {
            change(job);
        }
    }

    /// Has a recording scored when its turn comes; its number.
    pub(crate) fn start(self: &Arc<Self>, sent: Sent) -> u64 {
        let sent = Arc::new(sent);
        let number = self.add(Arc::clone(&sent));
        let jobs = Arc::clone(self);
        tokio::spawn(async move {
            // Never closed, so the turn always comes.
            let Ok(turn) = Arc::clone(&jobs.turn).acquire_owned().await else { return };
            let Ok(job) = jobs.get(number) else { return };
            if job.over() {
                return;
            }
            let shared = Arc::clone(&jobs);
            let work = tokio::task::spawn_blocking(move || {
                // The place is free again when the work has ended, not when somebody stopped waiting for it.
                let _turn = turn;
                let until = Instant::now() + LONGEST;
                let progress = |share: f64| {
                    let go_on = !job.stop.load(Ordering::Relaxed) && Instant::now() < until;
                    shared.change(number, |j| {
                        if go_on && !j.over() {
                            j.stage = Stage::Working(share.clamp(0.0, 1.0));
                        }
                    });
                    go_on
                };
                progress(0.0);
                let scored = shared.scorer.score(&sent.file, &sent.name, &sent.drill, &sent.played, &progress);
                match scored {
                    Err(_) if Instant::now() >= until => Err(format!(
                        "it took longer than {} minutes; cut it into shorter takes",
                        LONGEST.as_secs() / 60
                    )),
                    other => other,
                }
            });
            let stage = match work.await {
                Ok(Ok(report)) => Stage::Done(Arc::new(report)),
                Ok(Err(why)) => Stage::Failed(why),
                Err(e) => Stage::Failed(format!("scoring stopped: {e}")),
            };
            jobs.change(number, |j| {
                if !matches!(j.stage, Stage::Stopped) {
                    j.stage = stage;
                }
            });
        });
        number
    }

    fn add(&self, sent: Arc<Sent>) -> u64 {
        let number = self.numbers.fetch_add(1, Ordering::Relaxed) + 1;
        let mut list = lock(&self.list);
        list.insert(number, Job { sent, stage: Stage::Waiting, stop: Arc::default(), kept_as: None });
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
    pub(crate) fn over(&self) -> bool {
        matches!(self.stage, Stage::Done(_) | Stage::Failed(_) | Stage::Stopped)
    }

    /// The report, once there is one.
    pub(crate) fn report(&self) -> Result<Arc<ScoreReport>, Trouble> {
        match &self.stage {
            Stage::Done(report) => Ok(Arc::clone(report)),
            _ => Err(Trouble::NotFound("This take is not scored yet.".into())),
        }
    }
}

/// The file in a folder that its program holds locked.
const LOCK: &str = "in-use";

/// Removes folders of earlier starts that ended without time to do so.
fn sweep(place: &Path) {
    let Ok(entries) = std::fs::read_dir(place) else { return };
    for folder in entries.filter_map(Result::ok).filter(|e| e.file_name().to_string_lossy().starts_with(PREFIX)) {
        // Another user's folder can neither be locked nor removed.
        let left = File::options().write(true).open(folder.path().join(LOCK)).is_ok_and(|f| f.try_lock().is_ok());
        if left {
            let _ = std::fs::remove_dir_all(folder.path());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn recordings_that_a_killed_start_left_are_swept_and_those_in_use_are_not() {
        let place = tempfile::tempdir().unwrap();
        let folder = |name: &str| {
            let folder = place.path().join(name);
            std::fs::create_dir(&folder).unwrap();
            std::fs::write(folder.join("take.wav"), "sound").unwrap();
            folder
        };
        let (left, used, other) = (folder("takegauge-page-a"), folder("takegauge-page-b"), folder("photos"));
        File::create(left.join(LOCK)).unwrap();
        File::create(other.join(LOCK)).unwrap();
        let lock = File::create(used.join(LOCK)).unwrap();
        lock.try_lock().unwrap();
        // Made this moment, its lock not there yet.
        let young = folder("takegauge-page-c");
        sweep(place.path());
        assert_eq!([left, used, other, young].map(|f| f.exists()), [false, true, true, true]);
    }
}
