//! `takegauge batch`: many takes on all cores, in the order given: one JSON line each, or tables.

mod lines;
mod spread;
#[cfg(feature = "parquet")]
mod tables;

use crate::args::values::is_parquet;
use crate::args::{BatchArgs, Common};
use crate::commands::folder::all_takes_in;
use crate::commands::inputs::allowed;
use crate::commands::which::journal_at_hand;
use crate::fault::{Fault, Outcome};
use crate::output;
use indicatif::ProgressBar;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};

/// What becomes of many takes.
struct Tally {
    scored: usize,
    /// Takes that the output held before.
    skipped: usize,
    failures: Vec<(PathBuf, Fault)>,
}

/// The takes to score, in order.
type Takes = Box<dyn Iterator<Item = PathBuf> + Send>;

pub(crate) fn run(args: &BatchArgs, common: &Common) -> Outcome {
    allowed(&args.inputs)?;
    let tables = args.out.as_deref().filter(|out| is_parquet(out));
    match (tables, &args.notes) {
        (Some(out), _) if args.resume => Err(Fault::usage(format!("--resume does not go with {}", out.display())).advise(
            "a Parquet file is written whole or not at all, so a stop leaves none to go on with; lines can be gone on \
             with: --out scores.jsonl --resume",
        )),
        (None, Some(_)) => Err(Fault::usage("--notes goes with a table of takes")
            .advise("give --out a name that ends in .parquet; lines of JSON hold the notes themselves")),
        (Some(out), notes) => write_tables(args, out, notes.as_deref(), common),
        (None, None) => {
            let journal = journal_at_hand(None, common);
            let journal = journal.as_deref();
            let (mut out, done) = lines::open(args)?;
            let (takes, bar) = takes(args, common)?;
            let takes = takes.filter(|p| !done.contains(&takegauge_audio::path_text(p)));
            let work = |path: &Path| lines::one(args, path, journal);
            let (scored, failures) = spread::score_all(args, takes, work, |line| out.put(&line), &bar)?;
            bar.finish_and_clear();
            summary(args, &Tally { scored, skipped: done.len(), failures }, common)
        }
    }
}

#[cfg(feature = "parquet")]
fn write_tables(args: &BatchArgs, out: &Path, notes: Option<&Path>, common: &Common) -> Outcome {
    let (takes, bar) = takes(args, common)?;
    let (scored, failures) = tables::write(args, (out, notes), takes, journal_at_hand(None, common).as_deref(), &bar)?;
    bar.finish_and_clear();
    summary(args, &Tally { scored, skipped: 0, failures }, common)
}

#[cfg(not(feature = "parquet"))]
fn write_tables(_: &BatchArgs, out: &Path, _: Option<&Path>, _: &Common) -> Outcome {
    Err(Fault::usage(format!("{}: this program was built without Parquet", out.display()))
        .advise("name a file that does not end in .parquet, for lines of JSON"))
}

/// The takes that were named, and a bar as long as they are many.
fn takes(args: &BatchArgs, common: &Common) -> Outcome<(Takes, ProgressBar)> {
    let from_stdin = args.takes.iter().any(|t| output::is_stdout(t));
    if from_stdin && args.takes.len() > 1 {
        return Err(Fault::usage("- stands alone: the list of takes is read from standard input"));
    }
    if from_stdin {
        // Paths are read as they come, so that a program may go on writing them. Bytes, not text: a name need not be
        // UTF-8.
        let lines = BufReader::new(std::io::stdin()).split(b'\n').map_while(Result::ok);
        let names = lines.map(|mut l| {
            if l.ends_with(b"\r") {
                l.pop();
            }
            l
        });
        let paths = names.filter(|l| !l.trim_ascii().is_empty()).map(path_of);
        return Ok((Box::new(paths), output::progress(0, "scoring", common.quiet)));
    }
    let listed = listed(&args.takes)?;
    if listed.is_empty() {
        return Err(none(args));
    }
    let bar = output::progress(listed.len() as u64, "scoring", common.quiet);
    Ok((Box::new(listed.into_iter()), bar))
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
            all.extend(all_takes_in(path).map_err(|e| Fault::unread(path, &e))?);
        } else {
            all.push(path.clone());
        }
    }
    Ok(all)
}

fn none(args: &BatchArgs) -> Fault {
    let named: Vec<String> = args.takes.iter().map(|t| t.display().to_string()).collect();
    Fault::usage(format!("{}: there is no take to score here", named.join(", ")))
        .advise("recordings are known by their endings: .wav, .flac, .aiff, .mp3, .m4a, .ogg, .mkv and others")
}

fn summary(args: &BatchArgs, tally: &Tally, common: &Common) -> Outcome {
    let Tally { scored, skipped, failures } = tally;
    if scored + failures.len() + skipped == 0 {
        return Err(none(args));
    }
    if failures.is_empty() {
        let already = if *skipped > 0 { format!(", {skipped} there already") } else { String::new() };
        // Where the lines go to a terminal or a pipe, they speak for themselves.
        if let Some(out) = args.out.as_ref().filter(|_| !common.quiet) {
            tell!("takegauge: {}: {} scored{already}", out.display(), output::takes(*scored));
        }
        return Ok(());
    }
    for (path, why) in failures {
        let (name, why) = (path.display().to_string(), why.to_string());
        // Most reasons begin with the file's name.
        tell!("takegauge: {}", if why.starts_with(&name) { why } else { format!("{name}: {why}") });
    }
    let others = if args.out.as_deref().is_some_and(is_parquet) {
        "; each is a row with its reason"
    } else if scored + skipped > 0 {
        "; the others are written"
    } else {
        ""
    };
    let all = output::takes(scored + failures.len());
    let told = format!("{} of {all} could not be scored, listed above{others}", failures.len());
    // Where nothing could be read at all, what was named is at fault.
    let unread = scored + skipped == 0 && failures.iter().all(|(_, fault)| fault.code() == Fault::UNREADABLE);
    Err(if unread { Fault::usage(told) } else { Fault::not_scored(told) })
}
