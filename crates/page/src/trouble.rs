//! What a page says where it cannot give what was asked.

use crate::frame;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use takegauge_journal::JournalError;

/// Why there is no answer.
#[derive(Debug)]
pub(crate) enum Trouble {
    /// There is no such page, take, drill or result.
    NotFound(String),
    /// The question cannot be read or answered as it stands.
    Wrong(String),
    /// Not from here, or without the token.
    Forbidden(String),
    /// Neither GET nor POST.
    Method,
    /// More than the limit.
    TooLarge(String),
    /// The request did not come in time.
    Slow,
    /// Too much is under way.
    Busy(String),
    /// The journal or the disk.
    Inside(String),
}

impl Trouble {
    fn parts(&self) -> (StatusCode, &str) {
        match self {
            Self::NotFound(t) => (StatusCode::NOT_FOUND, t),
            Self::Wrong(t) => (StatusCode::BAD_REQUEST, t),
            Self::Forbidden(t) => (StatusCode::FORBIDDEN, t),
            Self::Method => (StatusCode::METHOD_NOT_ALLOWED, "Pages are read with GET and changed with POST."),
            Self::TooLarge(t) => (StatusCode::PAYLOAD_TOO_LARGE, t),
            Self::Slow => (StatusCode::REQUEST_TIMEOUT, "The request stopped half way."),
            Self::Busy(t) => (StatusCode::SERVICE_UNAVAILABLE, t),
            Self::Inside(t) => (StatusCode::INTERNAL_SERVER_ERROR, t),
        }
    }
}

impl From<JournalError> for Trouble {
    fn from(e: JournalError) -> Self {
        match e {
            JournalError::NoTake(n) => Self::NotFound(format!("The journal holds no take {n}.")),
            JournalError::NoTask(n) => Self::NotFound(format!("The journal holds no task {n}.")),
            JournalError::Busy { .. } | JournalError::Moved { .. } => Self::Busy(e.to_string()),
            JournalError::OtherPlayer { .. } | JournalError::NoGroup { .. } | JournalError::NotComparable(_) => {
                Self::Wrong(sentence(&e.to_string()))
            }
            _ => Self::Inside(e.to_string()),
        }
    }
}

/// An error's text as a page says it.
fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", chars.as_str())
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        let (status, text) = self.parts();
        (status, Html(frame::trouble(text))).into_response()
    }
}
