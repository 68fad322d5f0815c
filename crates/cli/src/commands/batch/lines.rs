//! One JSON line a take, to standard output or to a file that can be gone on with.

use super::spread::Done;
use crate::args::BatchArgs;
use crate::commands::folder::drill_of;
use crate::commands::inputs::request;
use crate::fault::{Fault, Outcome};
use std::collections::BTreeSet;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::Path;
use takegauge_report::json_line;
use takegauge_take::NoTap;

/// The line of a take; `journal` holds drills that it may be of.
pub(super) fn one(args: &BatchArgs, path: &Path, journal: Option<&Path>) -> Done<String> {
    let line = || -> Outcome<(String, Option<String>)> {
        let told = drill_of(&args.inputs, path, journal)?;
        let report = told.score(&request(&args.inputs, path, &told.drill)?, &(), &mut NoTap)?;
        told.borne_out(path, &report)?;
        Ok((json_line(&report), told.said))
    };
    match line() {
        Ok((line, said)) => Done { written: Some(line), failed: None, said },
        Err(fault) => Done { written: None, failed: Some(fault), said: None },
    }
}

/// Where lines go, each at once.
pub(super) struct Lines(Box<dyn Write>);

impl Lines {
    pub(super) fn put(&mut self, line: &str) -> std::io::Result<()> {
        self.0.write_all(line.as_bytes()).and_then(|()| self.0.flush())
    }
}

/// Where the lines go, and the takes that are there already.
pub(super) fn open(args: &BatchArgs) -> Outcome<(Lines, BTreeSet<String>)> {
    let Some(path) = &args.out else { return Ok((Lines(Box::new(std::io::stdout())), BTreeSet::new())) };
    let wrong = |e: std::io::Error| Fault::usage(format!("{}: {e}", path.display()));
    if !args.resume && path.exists() {
        return Err(Fault::usage(format!("{} is there already", path.display()))
            .advise("--resume adds the takes that it does not hold; or name another file"));
    }
    let file = File::options().read(true).write(true).create(true).truncate(false).open(path);
    let mut file = file.map_err(|e| Fault::unwritten(path, e))?;
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
    Ok((Lines(Box::new(file)), done))
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
