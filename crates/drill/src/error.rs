//! What can go wrong with a drill, said so that it can be mended.

use std::{fmt, io};

/// A place in a text file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The file as the user named it.
    pub file: String,
    /// From 1.
    pub line: usize,
    /// From 1, in characters.
    pub column: usize,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}, column {}", self.file, self.line, self.column)
    }
}

impl Place {
    /// The place of a byte offset in `text`; an offset beyond its end is its end.
    pub fn of(file: &str, text: &str, offset: usize) -> Self {
        let mut end = offset.min(text.len());
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let before = &text[..end];
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        Self {
            file: file.to_owned(),
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
        }
    }
}

/// What the system said of a file, in the words that takes have for it.
fn unread(file: &str, source: &io::Error) -> String {
    match source.kind() {
        io::ErrorKind::NotFound => format!("{file}: no such file; check the name and the folder"),
        io::ErrorKind::IsADirectory => format!("{file} is a folder; name a file in it"),
        io::ErrorKind::PermissionDenied => format!("{file} may not be read; check who may read it"),
        _ => format!("{file}: cannot be read: {source}"),
    }
}

/// Why a drill could not be read, made, changed, brought in or taken out.
#[derive(Debug, thiserror::Error)]
pub enum DrillError {
    /// The file could not be opened or read.
    #[error("{}", unread(.file, .source))]
    Unreadable {
        /// The file as the user named it.
        file: String,
        /// What the system said.
        source: io::Error,
    },
    /// Neither a file nor a built-in drill has the name.
    #[error("{named}: no such drill file, and no built-in drill of that name")]
    Unknown {
        /// What was asked for.
        named: String,
        /// A built-in drill of almost that name.
        like: Option<&'static str>,
    },
    /// The file is larger than any drill.
    #[error("{file}: {bytes} bytes; at most {limit} bytes are read. Is it the right file?")]
    TooLarge {
        /// The file as the user named it.
        file: String,
        /// Its size.
        bytes: u64,
        /// The most that is read.
        limit: u64,
    },
    /// The file is not text in UTF-8.
    #[error("{file}: not a text file in UTF-8. Is it the right file?")]
    NotText {
        /// The file as the user named it.
        file: String,
    },
    /// The file is not TOML, or not well formed in a format that is brought in.
    #[error("{place}: {message}")]
    Syntax {
        /// Where.
        place: Place,
        /// What the parser said.
        message: String,
    },
    /// A key that no drill has.
    #[error("{place}: unknown key \"{key}\". Known keys: {known}")]
    UnknownKey {
        /// Where.
        place: Place,
        /// What was read.
        key: String,
        /// All known keys.
        known: String,
    },
    /// A key that every drill needs.
    #[error("{file}: the key \"{key}\" is missing. Write for example: {example}")]
    MissingKey {
        /// The file as the user named it.
        file: String,
        /// The key.
        key: &'static str,
        /// A line that would do.
        example: &'static str,
    },
    /// A value, or a note of the line, that is not allowed.
    #[error("{place}: read {read}; allowed: {allowed}")]
    NotAllowed {
        /// Where.
        place: Place,
        /// What was read.
        read: String,
        /// What is allowed there.
        allowed: String,
    },
    /// The line holds no note.
    #[error("{file}: the line has no notes. Write them as string:fret, for example: line = \"6:3 6:5 5:3\"")]
    NoNotes {
        /// The file as the user named it.
        file: String,
    },
    /// More notes than are scored at once.
    #[error("{file}: {notes} notes over all repeats; at most {limit} are allowed. Write fewer repeats.")]
    TooManyNotes {
        /// The file as the user named it.
        file: String,
        /// Notes in the line times repeats.
        notes: usize,
        /// The most that are allowed.
        limit: usize,
    },
    /// An option of a drill to make, of a change to one that is out of its range.
    #[error("{option}: read {read}; allowed: {allowed}")]
    Option {
        /// Which option.
        option: String,
        /// What was asked for.
        read: String,
        /// What is allowed.
        allowed: String,
    },
}
