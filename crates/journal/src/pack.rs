//! Score reports at rest: JSON text under zstd with a fixed dictionary.
//!
//! Reports share their field names and most of their sentences; a dictionary that holds them halves the size of a short
//! report. The dictionary is one report of our own as plain text (raw content, RFC 8878 section 5); which one does not
//! matter, but it must never change: a stored report names it by number.

use crate::error::{JournalError, Result};
use rusqlite::Connection;
use std::io::Read;
use takegauge_review::ScoreReport;
use zstd::stream::read::Decoder;

/// The packing that new reports get.
pub(crate) const PACKING: i64 = 1;
const DICTIONARY_1: &[u8] = include_bytes!("packing-1.json");
/// Smaller than 3 by an eighth, and still under a millisecond a report.
const LEVEL: i32 = 9;
/// No report is larger: two hours of fast playing make 80 MB of JSON.
const LARGEST: u64 = 512 << 20;

/// Packs many texts with one set-up of the dictionary.
pub(crate) struct Packer(zstd::bulk::Compressor<'static>);

impl Packer {
    pub(crate) fn new() -> Result<Self> {
        zstd::bulk::Compressor::with_dictionary(LEVEL, DICTIONARY_1).map(Self).map_err(failed)
    }

    pub(crate) fn pack(&mut self, text: &str) -> Result<Vec<u8>> {
        self.0.compress(text.as_bytes()).map_err(failed)
    }
}

impl std::fmt::Debug for Packer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Packer")
    }
}

/// The text of a stored report.
pub(crate) fn unpack(packing: i64, body: &[u8]) -> Result<String> {
    if packing != PACKING {
        return Err(JournalError::Record(format!("a stored report has packing {packing}, which is unknown here")));
    }
    let mut text = String::new();
    let reader = Decoder::with_dictionary(body, DICTIONARY_1).map_err(failed)?;
    reader.take(LARGEST).read_to_string(&mut text).map_err(failed)?;
    Ok(text)
}

/// Hands out each stored report with its take's number. One that cannot be read is passed over; `check` names it.
pub(crate) fn each_report(
    db: &Connection,
    mut told: impl FnMut(i64, &ScoreReport) -> rusqlite::Result<()>,
) -> rusqlite::Result<()> {
    let mut query = db.prepare("SELECT take, packing, body FROM report ORDER BY take")?;
    let mut rows = query.query([])?;
    while let Some(row) = rows.next()? {
        let text = unpack(row.get(1)?, &row.get::<_, Vec<u8>>(2)?).ok();
        if let Some(report) = text.and_then(|t| ScoreReport::from_json(&t).ok()) {
            told(row.get(0)?, &report)?;
        }
    }
    Ok(())
}

fn failed(e: std::io::Error) -> JournalError {
    JournalError::Record(format!("a stored report cannot be read: {e}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_packed_unpacks_and_damage_is_an_error() {
        let mut packer = Packer::new().unwrap();
        let text = String::from_utf8(DICTIONARY_1.to_vec()).unwrap().replace("160", "161");
        let body = packer.pack(&text).unwrap();
        assert!(body.len() * 20 < text.len(), "{} of {}", body.len(), text.len());
        assert_eq!(unpack(PACKING, &body).unwrap(), text);
        assert!(unpack(PACKING, &body[..body.len() / 2]).is_err());
        assert!(unpack(PACKING, b"no zstd").is_err() && unpack(9, &body).is_err());
    }
}
