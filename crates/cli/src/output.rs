//! Standard output, files and progress: whole files or none, quiet when piped, no colour unless on a terminal.

use crate::fault::{Fault, Outcome};
use crate::shown::shown;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{ErrorKind, IsTerminal, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use takegauge_audio::write_whole;
use takegauge_report::Style;
use takegauge_take::{Pass, Progress};

/// Writes text for people to standard output; a reader that went away is no error.
pub(crate) fn print(text: &str) -> Outcome {
    exactly(shown(text).as_bytes())
}

/// Writes bytes for programs to standard output, as they are.
pub(crate) fn exactly(bytes: &[u8]) -> Outcome {
    let mut out = std::io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(e) if e.kind() == ErrorKind::BrokenPipe => Err(Fault::BrokenPipe),
        Err(e) => Err(Fault::usage(format!("cannot write to standard output: {e}"))),
    }
}

/// What `tell!` does.
pub(crate) fn tell(words: &str) {
    let _ = writeln!(std::io::stderr(), "{}", shown(words));
}

/// Whether `path` is `-`, that is standard output.
pub(crate) fn is_stdout(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// Writes `bytes` to a file, whole or not at all, or to standard output where `path` is `-`.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Outcome {
    if is_stdout(path) {
        return exactly(bytes);
    }
    stream(path, |w| w.write_all(bytes))
}

/// The same, filled bit by bit. What was there under the name and is no take is replaced, and that is said.
pub(crate) fn stream(path: &Path, fill: impl FnOnce(&mut dyn Write) -> std::io::Result<()>) -> Outcome {
    if is_stdout(path) {
        let mut out = std::io::BufWriter::new(std::io::stdout().lock());
        return match fill(&mut out).and_then(|()| out.flush()) {
            Err(e) if e.kind() == ErrorKind::BrokenPipe => Err(Fault::BrokenPipe),
            other => other.map_err(|e| Fault::usage(format!("cannot write to standard output: {e}"))),
        };
    }
    replaces(path)?;
    write_whole(path, |w| fill(w)).map_err(Fault::usage)
}

/// Makes a folder, and those above it, where they are not there.
pub(crate) fn make_folder(folder: &Path) -> Outcome {
    std::fs::create_dir_all(folder).map_err(|e| {
        let path = folder.display();
        Fault::usage(match e.kind() {
            ErrorKind::AlreadyExists | ErrorKind::NotADirectory => {
                format!("{path}: a file stands where this folder would be; name another folder")
            }
            _ => format!("{path}: this folder cannot be made: {e}; name another one"),
        })
    })
}

/// Looks at what a file that is about to be written replaces: a recording never, anything else only aloud.
fn replaces(path: &Path) -> Outcome {
    let there = std::fs::metadata(path).is_ok_and(|m| m.is_file() && m.len() > 0);
    if there && holds_sound(path) {
        return Err(Fault::usage(format!("{} is a recording; it was left as it is", path.display()))
            .advise("give the output another name"));
    }
    if there {
        remark(format_args!("{} was there and is replaced", path.display()));
    }
    Ok(())
}

static QUIET: AtomicBool = AtomicBool::new(false);

/// `--quiet`.
pub(crate) fn say_less(yes: bool) {
    QUIET.store(yes, Ordering::Relaxed);
}

/// Says something beside the result on standard error, each on a line of its own, unless `--quiet` was given.
pub(crate) fn remark(text: impl std::fmt::Display) {
    if !QUIET.load(Ordering::Relaxed) {
        for line in text.to_string().lines() {
            tell!("takegauge: {line}");
        }
    }
}

static REPLACE: AtomicBool = AtomicBool::new(false);

/// `--replace`.
pub(crate) fn may_replace(yes: bool) {
    REPLACE.store(yes, Ordering::Relaxed);
}

/// Refuses to write over a file that somebody may have made by hand, or recorded.
pub(crate) fn keep_what_is_there(path: &Path) -> Outcome {
    let there = !is_stdout(path) && std::fs::metadata(path).is_ok_and(|m| m.is_file());
    if there && !REPLACE.load(Ordering::Relaxed) {
        return Err(Fault::usage(format!("{} is there already", path.display()))
            .advise("give another name, or --replace to write over it"));
    }
    Ok(())
}

/// Whether the file begins as recordings do.
fn holds_sound(path: &Path) -> bool {
    let mut head = [0u8; 12];
    let read = std::fs::File::open(path).and_then(|mut f| std::io::Read::read(&mut f, &mut head)).unwrap_or(0);
    let starts = |mark: &[u8]| head[..read].starts_with(mark);
    let marks: [&[u8]; 10] =
        [b"RIFF", b"RF64", b"BW64", b"riff", b"FORM", b"fLaC", b"OggS", b"caff", b"ID3", b"\x1aE\xdf\xa3"];
    // MP3 and AAC without a tag begin with a frame: eleven bits set, and no text does.
    let frame = head[0] == 0xff && head[1] & 0xe0 == 0xe0 && head[1] != 0xff && head[..2] != *b"\xff\xfe";
    marks.into_iter().any(starts) || frame || &head[4..8] == b"ftyp"
}

/// Whether standard output may carry colour.
pub(crate) fn colour() -> bool {
    std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
}

/// Columns: COLUMNS where it is set, else the terminal's, else 100.
pub(crate) fn width() -> usize {
    let set = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok());
    let terminal = || console::Term::stdout().size_checked().map(|(_, columns)| usize::from(columns));
    set.or_else(terminal).unwrap_or(100).clamp(40, 160)
}

/// "1 take", "3 takes".
pub(crate) fn takes(n: usize) -> String {
    format!("{n} take{}", if n == 1 { "" } else { "s" })
}

/// A bar on standard error for long work; none when piped or quiet.
pub(crate) fn progress(length: u64, what: &str, quiet: bool) -> ProgressBar {
    if quiet || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{msg} {wide_bar} {percent:>3}%  {eta} left");
    let bar = ProgressBar::new(length).with_message(what.to_owned());
    match style {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}

/// How text is set on this terminal.
pub(crate) fn text_style() -> Style {
    Style { width: width(), bold: colour(), every_group: false }
}

/// A file name with something added at its end.
pub(crate) fn with_suffix(stem: &Path, suffix: &str) -> PathBuf {
    let mut name = stem.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

/// A bar over the two passes of a take.
pub(crate) struct TakeBar(ProgressBar);

impl TakeBar {
    pub(crate) fn new(quiet: bool) -> Self {
        Self(progress(0, "listening", quiet))
    }

    pub(crate) fn finish(&self) {
        self.0.finish_and_clear();
    }
}

impl Progress for TakeBar {
    fn begin(&self, pass: Pass, samples: Option<u64>) {
        self.0.set_position(0);
        self.0.set_length(samples.unwrap_or(0));
        self.0.set_message(match pass {
            Pass::Listening => "listening",
            Pass::Measuring => "measuring",
        });
    }

    fn advance(&self, samples: u64) -> ControlFlow<()> {
        self.0.inc(samples);
        ControlFlow::Continue(())
    }

    fn seek(&self, share: f64) -> ControlFlow<()> {
        self.0.set_message("looking for the drill");
        self.0.set_length(100);
        self.0.set_position((100.0 * share) as u64);
        ControlFlow::Continue(())
    }
}
