//! What can go wrong with a journal file.

use std::path::PathBuf;

/// Why the journal could not do what was asked. Nothing is half done: a take is in the journal whole or not at all.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// The file or its folder cannot be opened or made.
    #[error("cannot open the journal {path}: {why}")]
    Open {
        /// The journal.
        path: PathBuf,
        /// As the system says it.
        why: String,
    },
    /// There is no such file.
    #[error("there is no journal {path}")]
    Missing {
        /// The journal.
        path: PathBuf,
    },
    /// The file is there and is no journal, or its content is damaged.
    #[error("the journal {path} is damaged: {why}")]
    Damaged {
        /// The journal.
        path: PathBuf,
        /// What was found.
        why: String,
    },
    /// The file behind the name is no longer the one that was opened: it was moved, deleted or replaced. What was to be
    /// kept is not.
    #[error("the journal {path} was moved, deleted or replaced while it was open; nothing was kept")]
    Moved {
        /// The journal's name.
        path: PathBuf,
    },
    /// A log that a crash left lies beside a file to which it does not belong: read together they would be damaged.
    #[error(
        "the log {log} belongs to another file than the journal {path} it lies beside, perhaps because a copy was laid over the journal after a crash; neither was changed"
    )]
    StrayLog {
        /// The journal.
        path: PathBuf,
        /// The log.
        log: PathBuf,
    },
    /// The file was written by a later version of this program.
    #[error("the journal {path} has format {found}; this version reads up to {known}")]
    TooNew {
        /// The journal.
        path: PathBuf,
        /// Its format.
        found: i64,
        /// The latest format known here.
        known: i64,
    },
    /// Another program kept the journal locked for longer than the waiting time.
    #[error("another program is writing to the journal {path}; what it holds is whole")]
    Busy {
        /// The journal.
        path: PathBuf,
    },
    /// There is no room, or no right to write; what the journal holds is whole.
    #[error("cannot write to the journal {path}: {why}; what it holds is whole")]
    Write {
        /// The journal.
        path: PathBuf,
        /// As the system says it.
        why: String,
    },
    /// No take has this number.
    #[error("the journal holds no take {0}")]
    NoTake(i64),
    /// No task has this number.
    #[error("the journal holds no task {0}")]
    NoTask(i64),
    /// The takes of a question have no such group of notes.
    #[error("these takes have no group {group:?}; they have: {}", .known.join(", "))]
    NoGroup {
        /// What was asked for.
        group: String,
        /// What there is.
        known: Vec<String>,
    },
    /// Two sets that share a take, or are of several drills or players.
    #[error("{0}")]
    NotComparable(String),
    /// The same recording of the same drill stands under another player's name.
    #[error("this recording is in the journal as take {take} of {player}")]
    OtherPlayer {
        /// Its number.
        take: i64,
        /// Whose it is.
        player: String,
    },
    /// A record cannot be stored: an empty player's name, a drill or report that cannot be read.
    #[error("{0}")]
    Record(String),
    /// A line of an import cannot be read.
    #[error("line {line}: {why}")]
    Line {
        /// From 1.
        line: usize,
        /// What is wrong.
        why: String,
    },
    /// A file beside the journal (backup, export, salvage) cannot be written or read.
    #[error("{path}: {source}")]
    File {
        /// Which.
        path: PathBuf,
        /// As the system says it.
        source: std::io::Error,
    },
}

/// The result of a journal call.
pub type Result<T> = std::result::Result<T, JournalError>;

impl JournalError {
    /// An SQLite error about the journal at `path`, sorted by what to do next.
    pub(crate) fn sql(path: &std::path::Path, e: &rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as Code;
        let (path, why) = (path.to_path_buf(), e.to_string());
        match e.sqlite_error_code() {
            Some(Code::DatabaseBusy | Code::DatabaseLocked) => Self::Busy { path },
            Some(Code::DatabaseCorrupt | Code::NotADatabase) => Self::Damaged { path, why },
            Some(Code::CannotOpen | Code::PermissionDenied | Code::ReadOnly) => {
                // The log beside it is written even where the journal is only read.
                Self::Open { path, why: format!("{why}; it and its folder must be writable, even to read it") }
            }
            _ => Self::Write { path, why },
        }
    }
}
