//! Pieces of sentences.

pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// "3.1 ms late"
pub(crate) fn early_late(ms: f64) -> String {
    format!("{:.1} ms {}", ms.abs(), if ms < 0.0 { "early" } else { "late" })
}

pub(crate) fn count(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}
