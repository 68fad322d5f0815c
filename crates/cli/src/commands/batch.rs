//! `takegauge batch`: many takes on all cores, one JSON line each, in the order given.

use crate::args::{BatchArgs, Common};
use crate::commands::folder::{all_takes_in, drill_of};
use crate::commands::inputs::request;
use crate::fault::{Fault, Outcome};
use crate::output;
use indicatif::ProgressBar;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{BufRead, BufReader, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use takegauge_report::json_line;
use takegauge_take::score;

pub(crate) fn run(args: &BatchArgs, common: &Common) -> Outcome {
    let (mut out, done) = open(args)?;
    let from_stdin = args.takes.iter().any(|t| output::is_stdout(t));
    if from_stdin && args.takes.len() > 1 {
        return Err(Fault::usage("- stands alone: the list of takes is read from standard input"));
    }
    let listed = if from_stdin { Vec::new() } else { listed(&args.takes)? };
    let length = if from_stdin { 0 } else { listed.len() as u64 };
    // Paths are read as they come, so that a program may go on writing them.
    let paths: Box<dyn Iterator<Item = PathBuf> + Send> = if from_stdin {
        // Bytes, not text: a name need not be UTF-8.
        let lines = BufReader::new(std::io::stdin()).split(b'\n').map_while(Result::ok);
        let names = lines.map(|mut l| {
            if l.ends_with(b"\r") {
                l.pop();
            }
            l
        });
        Box::new(names.filter(|l| !l.trim_ascii().is_empty()).map(path_of))
    } else {
        Box::new(listed.into_iter())
    };
    let bar = output::progress(length, "scoring", common.quiet);
    let paths = paths.filter(|p| !done.contains(&takegauge_audio::path_text(p)));
    let (scored, failures) = score_all(args, paths, &mut *out, &bar)?;
    bar.finish_and_clear();
    summary(args, scored, done.len(), &failures, common)
}

fn summary(
    args: &BatchArgs,
    scored: usize,
    skipped: usize,
    failures: &[(PathBuf, String)],
    common: &Common,
) -> Outcome {
    if scored + failures.len() + skipped == 0 {
        let named: Vec<String> = args.takes.iter().map(|t| t.display().to_string()).collect();
        return Err(Fault::usage(format!("{}: there is no take to score here", named.join(", ")))
            .advise("recordings are known by their endings: .wav, .flac, .aiff, .mp3, .m4a, .ogg, .mkv and others"));
    }
    if failures.is_empty() {
        let already = if skipped > 0 { format!(", {skipped} there already") } else { String::new() };
        // Where the lines go to a terminal or a pipe, they speak for themselves.
        if let Some(out) = args.out.as_ref().filter(|_| !common.quiet) {
            tell!("takegauge: {}: {} scored{already}", out.display(), output::takes(scored));
        }
        return Ok(());
    }
    for (path, why) in failures {
        let name = path.display().to_string();
        // Most reasons begin with the file's name.
        tell!("takegauge: {}", if why.starts_with(&name) { why.clone() } else { format!("{name}: {why}") });
    }
    let others = if scored + skipped > 0 { "; the others are written" } else { "" };
    let all = output::takes(scored + failures.len());
    Err(Fault::not_scored(format!("{} of {all} could not be scored, listed above{others}", failures.len())))
}

/// A name as the system has it.
fn path_of(bytes: Vec<u8>) -> PathBuf {
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStringExt;
        PathBuf::from(std::ffi::OsString::from_vec(bytes))
    }
    #[cfg(not(unix))]
    PathBuf::from(String::from_utf8_lossy(&bytes).into_owned())
}

/// The takes named, folders looked through.
fn listed(named: &[PathBuf]) -> Outcome<Vec<PathBuf>> {
    let mut all = Vec::new();
    for path in named {
        if path.is_dir() {
            all.extend(all_takes_in(path).map_err(|e| Fault::usage(format!("{}: {e}", path.display())))?);
        } else {
            all.push(path.clone());
        }
    }
    Ok(all)
}

/// Each job holds a take's analysis in memory.
const MOST_JOBS_A_CORE: usize = 2;

/// Scores on all threads, writes in order. How many were written, and what could not be scored.
fn score_all(
    args: &BatchArgs,
    paths: impl Iterator<Item = PathBuf> + Send,
    out: &mut dyn Write,
    bar: &ProgressBar,
) -> Outcome<(usize, Vec<(PathBuf, String)>)> {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let most = MOST_JOBS_A_CORE * cores;
    if args.jobs > most {
        tell!("takegauge: --jobs {}: {most} are used; more would only wait for each other", args.jobs);
    }
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(args.jobs.min(most))
        .build()
        .map_err(|e| Fault::usage(format!("--jobs {}: {e}", args.jobs)))?;
    let (send, receive) = mpsc::channel::<(usize, PathBuf, Outcome<String>)>();
    let stop = AtomicBool::new(false);
    let mut written = 0;
    let mut failures = Vec::new();
    let mut broken = None;
    std::thread::scope(|scope| {
        let stop = &stop;
        scope.spawn(move || {
            pool.install(|| {
                paths.enumerate().par_bridge().for_each_with(send, |send, (i, path)| {
                    if !stop.load(Ordering::Relaxed) {
                        let line = one(args, &path);
                        // The receiver outlives every sender.
                        let _ = send.send((i, path, line));
                    }
                });
            });
        });
        let mut waiting = BTreeMap::new();
        let mut next = 0;
        for (i, path, line) in receive {
            waiting.insert(i, (path, line));
            while let Some((path, line)) = waiting.remove(&next) {
                next += 1;
                bar.inc(1);
                match line {
                    Ok(_) if broken.is_some() => {}
                    Ok(line) => match out.write_all(line.as_bytes()).and_then(|()| out.flush()) {
                        Ok(()) => written += 1,
                        Err(e) => {
                            stop.store(true, Ordering::Relaxed);
                            broken = Some(e);
                        }
                    },
                    Err(fault) => failures.push((path, fault.to_string())),
                }
            }
        }
    });
    match broken {
        None => Ok((written, failures)),
        Some(e) if e.kind() == ErrorKind::BrokenPipe => Err(Fault::BrokenPipe),
        Some(e) => Err(Fault::usage(format!("cannot write: {e}"))),
    }
}

fn one(args: &BatchArgs, path: &Path) -> Outcome<String> {
    let drill = drill_of(&args.inputs, path)?;
    let report = score(&request(&args.inputs, path, &drill)?, &())?;
    Ok(json_line(&report))
}

/// Where the lines go, and the takes that are there already.
fn open(args: &BatchArgs) -> Outcome<(Box<dyn Write>, BTreeSet<String>)> {
    let Some(path) = &args.out else { return Ok((Box::new(std::io::stdout()), BTreeSet::new())) };
    let wrong = |e: std::io::Error| Fault::usage(format!("{}: {e}", path.display()));
    if !args.resume && path.exists() {
        return Err(Fault::usage(format!("{} is there already", path.display()))
            .advise("--resume adds the takes that it does not hold; or name another file"));
    }
    let mut file = File::options().read(true).write(true).create(true).truncate(false).open(path).map_err(wrong)?;
    // Held until the program ends: two that went on with one file would write over each other's lines.
    if let Err(std::fs::TryLockError::WouldBlock) = file.try_lock() {
        return Err(Fault::usage(format!("another batch is writing to {}", path.display()))
            .advise("wait for it, or name another file"));
    }
    let mut text = Vec::new();
    file.read_to_end(&mut text).map_err(wrong)?;
    let (done, whole) = held(&text).map_err(|line| {
        Fault::usage(format!("{}, line {line}, is no score: the file was left as it is", path.display()))
            .advise("--resume goes on with what `batch --out` wrote; name another file")
    })?;
    // Only a last line without its end is cut off by a stop; its take is scored again.
    file.set_len(whole as u64).map_err(wrong)?;
    file.seek(SeekFrom::End(0)).map_err(wrong)?;
    Ok((Box::new(file), done))
}

/// The paths of the takes in an earlier output, and how many bytes of it are whole lines; the number of a whole line
/// that is no score.
fn held(text: &[u8]) -> Result<(BTreeSet<String>, usize), usize> {
    #[derive(serde::Deserialize)]
    struct Line {
        take: Take,
    }
    #[derive(serde::Deserialize)]
    struct Take {
        path: String,
    }
    let whole = text.iter().rposition(|b| *b == b'\n').map_or(0, |end| end + 1);
    let mut done = BTreeSet::new();
    for (k, line) in text[..whole].split_inclusive(|b| *b == b'\n').enumerate() {
        let line: Line = serde_json::from_slice(line).map_err(|_| k + 1)?;
        done.insert(line.take.path);
    }
    // What a stop cut off begins as a score does; anything else is not ours to cut.
    if text[whole..].first().is_some_and(|b| *b != b'{') {
        return Err(text[..whole].iter().filter(|b| **b == b'\n').count() + 1);
    }
    Ok((done, whole))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_that_was_cut_off_does_not_count() {
        let text = b"{\"take\":{\"path\":\"a.wav\"}}\n{\"take\":{\"path\":\"b.wav\"}}\n{\"take\":{\"pa";
        let (done, whole) = held(text).unwrap();
        assert_eq!((done.len(), done.contains("b.wav"), whole), (2, true, 52));
        assert_eq!(held(b"{\"take\":{\"path\":\"a.wav\"}}"), Ok((BTreeSet::new(), 0)));
        assert_eq!(held(b"{\"take\":{\"path\":\"a.wav\"}}\nnotes of mine\n"), Err(2));
        assert_eq!(held(b"notes of mine"), Err(1));
    }
}
