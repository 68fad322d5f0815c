//! Takes spread over the cores, what becomes of them handed on in the order given.

use crate::args::BatchArgs;
use crate::fault::{Fault, Outcome};
use crate::output;
use indicatif::ProgressBar;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::{Error, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;

/// Each job holds a take's analysis in memory.
const MOST_JOBS_A_CORE: usize = 2;
/// Takes a job that may be finished and wait for one before them: what bounds memory where one take is long.
const AHEAD_A_JOB: usize = 16;

/// What one take came to.
pub(super) struct Done<T> {
    /// What is written of it, if anything.
    pub(super) written: Option<T>,
    /// Why it has no score.
    pub(super) failed: Option<Fault>,
    /// Which drill it was taken for, where none was named.
    pub(super) said: Option<String>,
}

/// How many takes were scored, and which could not be, with the reason.
pub(super) type Counted = (usize, Vec<(PathBuf, Fault)>);

/// Works on all threads, puts in order. No more than [`AHEAD_A_JOB`] takes a job are held at a time.
pub(super) fn score_all<T: Send>(
    args: &BatchArgs,
    takes: impl Iterator<Item = PathBuf> + Send,
    work: impl Fn(&Path) -> Done<T> + Sync,
    mut put: impl FnMut(T) -> Result<(), Error>,
    bar: &ProgressBar,
) -> Outcome<Counted> {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let most = MOST_JOBS_A_CORE * cores;
    if args.jobs > most {
        tell!("takegauge: --jobs {}: {most} are used; more would only wait for each other", args.jobs);
    }
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(args.jobs.min(most))
        .build()
        .map_err(|e| Fault::usage(format!("--jobs {}: {e}", args.jobs)))?;
    let ahead = AHEAD_A_JOB * pool.current_num_threads();
    let (send, receive) = mpsc::channel::<(usize, PathBuf, Done<T>)>();
    // A leave to begin a take; each that was put gives one back.
    let (leave, leaves) = mpsc::channel::<()>();
    for _ in 0..ahead {
        let _ = leave.send(());
    }
    let mut leave = Some(leave);
    let takes = takes.enumerate().take_while(move |_| leaves.recv().is_ok());
    let stop = AtomicBool::new(false);
    let (mut scored, mut failures, mut broken) = (0, Vec::new(), None);
    std::thread::scope(|scope| {
        let (stop, work) = (&stop, &work);
        scope.spawn(move || {
            pool.install(|| {
                takes.par_bridge().for_each_with(send, |send, (i, path)| {
                    if !stop.load(Ordering::Relaxed) {
                        let done = work(&path);
                        // The receiver outlives every sender.
                        let _ = send.send((i, path, done));
                    }
                });
            });
        });
        let mut waiting = BTreeMap::new();
        let mut next = 0;
        for (i, path, done) in receive {
            waiting.insert(i, (path, done));
            while let Some((path, done)) = waiting.remove(&next) {
                next += 1;
                bar.inc(1);
                // It is gone once every take was begun.
                let _ = leave.as_ref().map(|leave| leave.send(()));
                if broken.is_some() {
                    continue;
                }
                if let Some(said) = &done.said {
                    output::remark(format_args!("{}: {said}", path.display()));
                }
                let there = done.written.is_some();
                if let Some(Err(e)) = done.written.map(&mut put) {
                    stop.store(true, Ordering::Relaxed);
                    // No leave, no further take.
                    leave = None;
                    broken = Some(e);
                    continue;
                }
                match done.failed {
                    Some(why) => failures.push((path, why)),
                    None => scored += usize::from(there),
                }
            }
        }
    });
    match broken {
        None => Ok((scored, failures)),
        Some(e) if e.kind() == ErrorKind::BrokenPipe => Err(Fault::BrokenPipe),
        Some(e) => Err(Fault::usage(format!("cannot write: {e}"))),
    }
}
