//! What can go wrong in the binary: a message, what to do about it, and the exit code.

use std::fmt::Display;
use std::io::{self, ErrorKind};
use std::path::Path;
use takegauge_audio::AudioError;
use takegauge_take::TakeError;

/// Why a command stops.
#[derive(Debug)]
pub(crate) enum Fault {
    /// The reader of our standard output went away: no error.
    BrokenPipe,
    /// Anything that is told to the user.
    Told {
        /// What went wrong, and where.
        message: String,
        /// What to do about it.
        advice: Option<String>,
        /// 1: the take could not be scored; 2: wrong usage or unreadable input.
        code: u8,
    },
}

/// The result of a command.
pub(crate) type Outcome<T = ()> = Result<T, Fault>;

impl Fault {
    /// The exit code of wrong usage and of unreadable input.
    pub(crate) const UNREADABLE: u8 = 2;

    /// Wrong usage or unreadable input: exit code 2.
    pub(crate) fn usage(message: impl Display) -> Self {
        Self::Told { message: message.to_string(), advice: None, code: Self::UNREADABLE }
    }

    /// The input could be read and cannot be scored: exit code 1.
    pub(crate) fn not_scored(message: impl Display) -> Self {
        Self::Told { message: message.to_string(), advice: None, code: 1 }
    }

    /// A file or folder that cannot be read, in the words that takes have for it.
    pub(crate) fn unread(path: &Path, e: &io::Error) -> Self {
        let path = path.display();
        Self::usage(match e.kind() {
            ErrorKind::NotFound => format!("{path}: no such file; check the name and the folder"),
            ErrorKind::IsADirectory => format!("{path} is a folder; name a file in it"),
            ErrorKind::InvalidData => format!("{path} holds no text; is it the right file?"),
            ErrorKind::PermissionDenied => format!("{path} may not be read; check who may read it"),
            _ => format!("{path}: cannot be read: {e}"),
        })
    }

    /// A file that cannot be opened to write, in the words of those that are written whole.
    pub(crate) fn unwritten(path: &Path, source: io::Error) -> Self {
        let folder = path.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let (path, folder) = (path.to_path_buf(), folder.to_path_buf());
        Self::usage(match source.kind() {
            ErrorKind::NotFound => AudioError::NoFolder { path, folder },
            _ => AudioError::Write { path, source },
        })
    }

    /// The same fault with a line of advice.
    pub(crate) fn advise(self, line: impl Display) -> Self {
        match self {
            Self::Told { message, code, .. } => Self::Told { message, advice: Some(line.to_string()), code },
            other => other,
        }
    }

    /// The same fault about a named file.
    pub(crate) fn about(self, what: impl Display) -> Self {
        match self {
            Self::Told { message, advice, code } => Self::Told { message: format!("{what}: {message}"), advice, code },
            other => other,
        }
    }

    /// The process's exit code.
    pub(crate) fn code(&self) -> u8 {
        match self {
            Self::BrokenPipe => 0,
            Self::Told { code, .. } => *code,
        }
    }

    /// Says it on standard error.
    pub(crate) fn tell(&self) {
        if let Self::Told { message, advice, .. } = self {
            tell!("takegauge: {message}");
            if let Some(advice) = advice {
                tell!("           {advice}");
            }
        }
    }
}

impl From<TakeError> for Fault {
    fn from(e: TakeError) -> Self {
        let fault = if e.is_unscored() { Self::not_scored(&e) } else { Self::usage(&e) };
        match e {
            TakeError::ClickStartsLate { .. } => fault.advise("give --click-start in seconds from the file's start"),
            TakeError::Click { .. } => {
                fault.advise("check --click-channel or --click-file, or give --click-start in seconds")
            }
            TakeError::NoPlace { .. } => fault
                .advise("check the drill and the table, or say with --click-start where the first step's notes begin"),
            TakeError::TooManySteps { .. } => fault.advise("cut the table, or the repeats in it"),
            TakeError::Audio(_) | TakeError::NotAligned { .. } | TakeError::TooShort { .. } | TakeError::Stopped => {
                fault
            }
        }
    }
}

/// One line for lists of failures.
impl Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::BrokenPipe => f.write_str("the output was closed"),
            Self::Told { message, .. } => f.write_str(message),
        }
    }
}
