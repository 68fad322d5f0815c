//! Standard output, files and progress: whole files or none, quiet when piped, no colour unless on a terminal.

use crate::fault::{Fault, Outcome};
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{ErrorKind, IsTerminal, Write};
use std::path::Path;
use takegauge_audio::write_whole;

/// Writes to standard output; a reader that went away is no error.
pub(crate) fn print(text: &str) -> Outcome {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(e) if e.kind() == ErrorKind::BrokenPipe => Err(Fault::BrokenPipe),
        Err(e) => Err(Fault::usage(format!("cannot write to standard output: {e}"))),
    }
}

/// Whether `path` is `-`, that is standard output.
pub(crate) fn is_stdout(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// Writes `bytes` to a file, whole or not at all, or to standard output where `path` is `-`.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Outcome {
    if is_stdout(path) {
        return print(&String::from_utf8_lossy(bytes));
    }
    write_whole(path, |w| w.write_all(bytes)).map_err(Fault::usage)
}

/// Whether standard output may carry colour.
pub(crate) fn colour() -> bool {
    std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
}

/// Columns of the terminal, or 100 where there is none.
pub(crate) fn width() -> usize {
    let set = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok());
    set.unwrap_or(100).clamp(60, 160)
}

/// A bar on standard error for long work; none when piped or quiet.
pub(crate) fn progress(length: u64, what: &str, quiet: bool) -> ProgressBar {
    if quiet || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{msg:24!} {bar:40} {percent:>3}%  {eta} left");
    let bar = ProgressBar::new(length).with_message(what.to_owned());
    match style {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}
