//! Answers of all kinds.

use crate::state::no_journal;
use crate::trouble::Trouble;
use axum::response::{IntoResponse, Redirect, Response};

/// A page.
pub(crate) fn page(text: String) -> Response {
    axum::response::Html(text).into_response()
}

/// Where the browser is to go on.
pub(crate) fn to(address: &str) -> Response {
    Redirect::to(address).into_response()
}

/// What was found in the journal, or that there is none.
pub(crate) fn there<T>(found: Option<T>) -> Result<T, Trouble> {
    found.ok_or_else(no_journal)
}
