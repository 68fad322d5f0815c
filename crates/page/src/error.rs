//! Why the pages cannot be served.

/// What can go wrong before the first page is asked for.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The port is taken or not allowed.
    #[error("cannot listen on 127.0.0.1 port {port}: {source}")]
    Port {
        /// As asked; 0 for any.
        port: u16,
        /// As the system says it.
        source: std::io::Error,
    },
    /// The system gave no random numbers, threads or folder for uploads.
    #[error("cannot start: {0}")]
    Start(String),
    /// The journal is there and cannot be read.
    #[error(transparent)]
    Journal(#[from] takegauge_journal::JournalError),
}
