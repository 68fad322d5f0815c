//! Recordings made in the page that the player keeps: copied, as they are, into a folder beside the journal.

use crate::trouble::Trouble;
use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
use takegauge_audio::write_whole;
use takegauge_journal::RecordedAt;

/// Characters of the drill's name in a file's.
const NAME: usize = 60;

/// A recording that lies in the folder.
#[derive(Debug)]
pub(crate) struct Stored {
    pub(crate) path: PathBuf,
    /// It was not there before.
    new: bool,
}

impl Stored {
    /// Takes it away again, where the journal would not have it.
    pub(crate) fn take_back(&self) {
        if self.new {
            // What cannot be removed is a recording too many, which harms nobody.
            let _ = std::fs::remove_file(&self.path);
        }
    }
}

/// Copies a recording into `folder`, which is made if need be. Its name tells day, time, drill and tempo; a part of its
/// hash keeps two of the same minute apart, and makes a recording that is kept twice one file.
pub(crate) fn store(
    folder: &Path,
    from: &Path,
    sha256: &str,
    at: RecordedAt,
    drill: &str,
    bpm: f64,
) -> Result<Stored, Trouble> {
    let fail = |e: &dyn std::fmt::Display| {
        Trouble::Inside(format!(
            "The recording cannot be kept in {}: {e}. The take is not in the journal.",
            folder.display()
        ))
    };
    std::fs::create_dir_all(folder).map_err(|e| fail(&e))?;
    let hash = sha256.get(..8).unwrap_or(sha256);
    let minute = at.to_the_minute().replace(':', ".");
    let path = folder.join(format!("{minute} {}, {bpm} bpm {hash}.wav", plain(drill)));
    let mut source = File::open(from).map_err(|e| fail(&e))?;
    let size = source.metadata().map_err(|e| fail(&e))?.len();
    if std::fs::metadata(&path).is_ok_and(|there| there.is_file() && there.len() == size) {
        return Ok(Stored { path, new: false });
    }
    write_whole(&path, |out| io::copy(&mut source, out).map(drop)).map_err(|e| fail(&e))?;
    Ok(Stored { path, new: true })
}

/// A drill's name as every file system takes it.
fn plain(name: &str) -> String {
    let text: String = name.chars().map(|c| if c.is_alphanumeric() || c == ' ' { c } else { '-' }).take(NAME).collect();
    text.trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_recording_is_kept_once_under_a_name_that_leads_nowhere_else() {
        let dir = tempfile::tempdir().unwrap();
        let (from, folder) = (dir.path().join("t.wav"), dir.path().join("recordings"));
        std::fs::write(&from, b"RIFF and so on").unwrap();
        let at: RecordedAt = "2026-03-01T18:20:00+01:00".parse().unwrap();
        let keep = || store(&folder, &from, "0123456789abcdef", at, "../../Threes: <up> & \"back\"", 97.5).unwrap();
        let first = keep();
        assert_eq!(first.path, folder.join("2026-03-01 18.20 ------Threes- -up- - -back-, 97.5 bpm 01234567.wav"));
        assert_eq!(std::fs::read(&first.path).unwrap(), b"RIFF and so on");
        let again = keep();
        again.take_back();
        assert!(again.path.is_file(), "what was there before stays");
        first.take_back();
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 0);
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_named() {
        let dir = tempfile::tempdir().unwrap();
        let from = dir.path().join("t.wav");
        std::fs::write(&from, b"RIFF").unwrap();
        let at: RecordedAt = "2026-03-01T18:20:00+01:00".parse().unwrap();
        let told = store(&from.join("recordings"), &from, "01", at, "Threes", 90.0);
        assert!(matches!(told, Err(Trouble::Inside(t)) if t.contains("t.wav") && t.contains("not in the journal")));
    }
}
