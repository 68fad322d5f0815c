//! What may be chosen at a start.

use std::path::PathBuf;

/// How to serve.
#[derive(Debug, Clone)]
pub struct Options {
    /// Port on 127.0.0.1; 0 takes a free one.
    pub port: u16,
    /// Largest recording, bytes.
    pub upload_limit: u64,
    /// The journal; it need not be there yet.
    pub journal: Option<PathBuf>,
    /// Whose playing it is where nothing else says so.
    pub player: Option<String>,
}
