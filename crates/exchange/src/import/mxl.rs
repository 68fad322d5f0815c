//! Compressed MusicXML (.mxl): a zip file whose META-INF/container.xml names the score. Inflated under our own limit.

use super::imported::{MAX_INPUT, text_of};
use super::xml::{self, Element};
use std::io::{Cursor, Read as _};
use takegauge_drill::{DrillError, Place};

/// The score's text.
pub(super) fn score(bytes: &[u8], file: &str) -> Result<String, DrillError> {
    let fault =
        |message: String| DrillError::Syntax { place: Place { file: file.to_owned(), line: 1, column: 1 }, message };
    let mut archive =
        zip::ZipArchive::new(Cursor::new(bytes)).map_err(|e| fault(format!("not a zip file that can be read: {e}")))?;
    let mut entry = |name: &str, limit: u64| -> Result<Vec<u8>, DrillError> {
        let entry = archive.by_name(name).map_err(|e| fault(format!("\"{name}\" cannot be read: {e}")))?;
        let mut inflated = Vec::new();
        let read = entry.take(limit + 1).read_to_end(&mut inflated);
        read.map_err(|e| fault(format!("\"{name}\" cannot be inflated: {e}")))?;
        if inflated.len() as u64 > limit {
            return Err(fault(format!("\"{name}\" inflates to more than {limit} bytes")));
        }
        Ok(inflated)
    };
    let container = text_of(&entry("META-INF/container.xml", 64_000)?, file)?;
    let container = xml::parse(&container, file)?;
    let path = Element::root(&container).find("rootfile").and_then(|r| r.attribute("full-path"));
    let path = path.ok_or_else(|| fault("the container names no score".to_owned()))?.to_owned();
    text_of(&entry(&path, MAX_INPUT)?, file)
}
