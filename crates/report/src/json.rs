//! JSON, as two-space text for a file or as one line for a stream.

use serde::Serialize;

/// Pretty JSON with a newline at its end; `null` where a value cannot be written, which no report type allows.
pub fn json<T: Serialize>(value: &T) -> String {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_else(|_| "null".to_owned());
    text.push('\n');
    text
}

/// The same on one line.
pub fn json_line<T: Serialize>(value: &T) -> String {
    let mut text = serde_json::to_string(value).unwrap_or_else(|_| "null".to_owned());
    text.push('\n');
    text
}
