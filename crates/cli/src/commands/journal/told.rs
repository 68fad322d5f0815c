//! What the journal's commands tell: faults with advice, what was done.

use crate::args::DoneArgs;
use crate::fault::{Fault, Outcome};
use crate::output;
use std::path::Path;
use takegauge_journal::JournalError;
use takegauge_report::json;

/// A journal's error as the user reads it, with what to do.
pub(super) fn fault(e: JournalError, path: &Path) -> Fault {
    let advice = match &e {
        JournalError::Missing { .. } => {
            Some("`takegauge journal add` makes a journal; --journal-file names another one".to_owned())
        }
        JournalError::Open { .. } => {
            Some("check the rights of the file and its folder, or name another journal with --journal-file".to_owned())
        }
        JournalError::Damaged { .. } => Some(format!(
            "keep the file; `takegauge journal check --journal-file {} --salvage NEW` writes what can be read to a new one",
            path.display()
        )),
        JournalError::Moved { .. } => {
            Some("put it back, or name where it is now with --journal-file, and do it again".to_owned())
        }
        JournalError::StrayLog { .. } => Some(format!(
            "move both away and put the copy in place with `takegauge journal restore COPY --journal-file {0}`, or save \
             what both hold with `takegauge journal check --journal-file {0} --salvage NEW`",
            path.display()
        )),
        JournalError::TooNew { .. } => Some("use the version of takegauge that wrote it, or a later one".to_owned()),
        JournalError::Write { .. } => Some("check the room on the disk and the rights of the folder".to_owned()),
        JournalError::Busy { .. } => Some("try again when the other program is done".to_owned()),
        JournalError::OtherPlayer { .. } => Some(
            "one recording belongs to one player; `takegauge journal mend TAKE --player NAME` gives it to another"
                .to_owned(),
        ),
        JournalError::NoTask(_) => Some("`takegauge journal task list --all` shows what there is".to_owned()),
        _ => None,
    };
    let fault = Fault::usage(e);
    match advice {
        Some(line) => fault.advise(line),
        None => fault,
    }
}

/// "1 fault", "3 faults".
pub(super) fn faults(n: usize) -> String {
    format!("{n} fault{}", if n == 1 { "" } else { "s" })
}

/// Tells what was done: in words, or as JSON where that is asked for.
pub(super) fn done(args: &DoneArgs, shape: &serde_json::Value, words: &str) -> Outcome {
    match &args.json {
        Some(path) => output::write(path, json(shape).as_bytes()),
        None => output::print(words),
    }
}
